"""What publishing says: the next edition, what it changes, and what differs between two."""
