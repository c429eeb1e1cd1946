"""What the owner is told, and the owner's own pages."""
