"""What happens at a chair beyond the answer: log, estimated state of the tray, timers, count and report."""
