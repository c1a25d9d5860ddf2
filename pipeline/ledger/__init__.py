"""The truth in .setledger/ and the database that is derived from it."""
