"""geoqa in code: tables in, judged tables and a map out; each function a thin face over what a job uses."""
