"""What the language of people is made of: spelling, stems, numbers, grammar, expressions of the trade, likeness."""
