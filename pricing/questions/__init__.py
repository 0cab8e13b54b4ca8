"""What may be asked of a workshop, each question said once: its options, and the answer in tables and a picture."""
