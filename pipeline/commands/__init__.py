"""What a person or a cron line asks for: parse, call one library function, print."""
