"""What closed cases teach: priors, links and leaks learnt by EM, calibration, cases in and out."""
