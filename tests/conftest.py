"""What all tests share: hypothesis without a deadline, since the machines of its users differ."""

from hypothesis import HealthCheck, settings

settings.register_profile(
    "handoff",
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
settings.load_profile("handoff")
