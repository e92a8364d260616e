"""What is sent and answered, as schemas: they check what comes in and describe both in the OpenAPI document."""
