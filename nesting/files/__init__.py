"""What a workshop keeps: hide, panel, order, layout and report files."""
