"""What people look at is made of: text, sheets, pictures, pages."""
