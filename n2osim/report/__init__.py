"""What a person reads: findings, text, tables, figures, the set-up sheet, files for others."""
