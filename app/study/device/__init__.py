"""What-ifs of the sensor and the device over the open study."""
