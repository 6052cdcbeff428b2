"""What the pages in docs/ are made with: figures from runs, tables from the code."""
