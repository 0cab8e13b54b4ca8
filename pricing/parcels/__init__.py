"""What leaves the workshop by the parcel: to the assay office, to the refiner; and metal that a customer brings."""
