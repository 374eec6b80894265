"""What a browser shows and sends: the entry of the screens, our own routes, the gate before them and the step pad."""
