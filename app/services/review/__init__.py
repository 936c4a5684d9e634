"""What needs a person: the queue, approval of months, the trail."""
