"""The pages: a job on the phone beside the car, and wide on the laptop. They only ask job."""
