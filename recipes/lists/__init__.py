"""Lists as spreadsheets save them: read, looked at cell by cell, and taken in whole or not at all."""
