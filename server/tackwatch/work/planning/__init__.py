"""Planning: what a plan is made from, who works it out and when, what it comes to, and giving it to the crew."""
