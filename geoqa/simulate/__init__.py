"""Jobs with planted truth: what the tool is trained and scored on."""
