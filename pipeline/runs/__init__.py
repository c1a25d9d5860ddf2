"""One run under one lock; forgetting a client; what a coach writes of and to one."""
