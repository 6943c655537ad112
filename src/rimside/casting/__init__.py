"""Who plays what, with what, from where and when: the problem, its solver, its judge."""
