"""How the invented adapters and their bench readings are made."""
