"""Why a step stands where it stands in a plan."""
