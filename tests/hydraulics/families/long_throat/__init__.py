"""Long_throat."""
