package jobs

import "context"

// Sweep queues the due slots once, as the running loop does.
func (r *Runner) Sweep(ctx context.Context) error { return r.sweep(ctx) }

// Every is the running loop.
var Every = every
