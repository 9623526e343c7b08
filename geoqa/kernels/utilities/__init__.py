"""Does the pipe fall, is it deep enough, and far enough from others?"""
