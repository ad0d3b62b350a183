package store

import (
	"context"
	"sync"

	"gorm.io/gorm"
)

// checkpointer moves what was committed from SQLite's write-ahead log into the
// file beside the requests, so that no request waits for it. Nothing depends on
// it: a log that grows beyond SQLite's own limit is moved by the writer.
type checkpointer struct {
	g      *gorm.DB
	commit chan struct{}
	quit   context.Context
	end    context.CancelFunc
	done   sync.WaitGroup
}

// checkpointEvery is after how many commits: well below the 1000 pages at which
// the writer would do it itself, at some 30 pages for an inspection of ten wheels.
const checkpointEvery = 16

func startCheckpointer(g *gorm.DB) *checkpointer {
	c := &checkpointer{g: g, commit: make(chan struct{}, checkpointEvery)}
	c.quit, c.end = context.WithCancel(context.Background())
	c.done.Go(c.run)
	return c
}

func (c *checkpointer) run() {
	for n := 1; ; n++ {
		select {
		case <-c.quit.Done():
			return
		case <-c.commit:
		}
		if n%checkpointEvery == 0 {
			c.g.Exec("PRAGMA wal_checkpoint(PASSIVE)") // an error comes back with the writer's next commit
		}
	}
}

// committed says that a transaction was committed.
func (c *checkpointer) committed() {
	select {
	case c.commit <- struct{}{}:
	default: // one is under way
	}
}

// stop may be called again, as may the Close of a database.
func (c *checkpointer) stop() error {
	c.end()
	c.done.Wait()
	return closeDB(c.g)
}
