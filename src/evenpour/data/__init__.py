"""What a mechanic can read and change: sheets, parts, steps, checks, cautions; and one reader."""
