package jobs

import "context"

// Sweep is one look for due slots, as the running loop does it.
func (r *Runner) Sweep(ctx context.Context) error { return r.sweep(ctx) }

// Every is the loop itself.
var Every = every
