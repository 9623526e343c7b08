"""Where along the centre line of the job is that, and what does its typical section ask for?"""
