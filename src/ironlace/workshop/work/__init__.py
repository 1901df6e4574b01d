"""Long work: jobs that go on after a crash where they were."""
