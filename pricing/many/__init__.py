"""Very many variants in Parquet: the form of the files, writing a folder to them, pricing them as a stream."""
