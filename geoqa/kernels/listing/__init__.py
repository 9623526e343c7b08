"""What is listed for people: findings of one place under one number."""
