"""What every chart is made of; knows no topic."""
