"""The sections of a knowledge file: for each what is read, and the record built of it."""
