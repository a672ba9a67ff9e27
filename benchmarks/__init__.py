"""Measurements that may take minutes: tuning on practice tanks, speed."""
