package store

import (
	"sync"

	"gorm.io/gorm"
)

// checkpointer moves what was committed from SQLite's write-ahead log into the
// file beside the requests, so that no request waits for it. Nothing depends on
// it: a log that grows beyond SQLite's own limit is moved by the writer.
type checkpointer struct {
	g      *gorm.DB
	commit chan struct{}
	done   sync.WaitGroup
}

// checkpointEvery is after how many commits: well below the 1000 pages at which
// the writer would do it itself, at some 30 pages for an inspection of ten wheels.
const checkpointEvery = 16

func startCheckpointer(g *gorm.DB) *checkpointer {
	c := &checkpointer{g: g, commit: make(chan struct{}, checkpointEvery)}
	c.done.Go(func() {
		n := 0
		for range c.commit {
			if n++; n%checkpointEvery == 0 {
				g.Exec("PRAGMA wal_checkpoint(PASSIVE)") // an error comes back with the writer's next commit
			}
		}
	})
	return c
}

// committed says that a transaction was committed.
func (c *checkpointer) committed() {
	select {
	case c.commit <- struct{}{}:
	default: // one is under way
	}
}

func (c *checkpointer) stop() error {
	close(c.commit)
	c.done.Wait()
	return closeDB(c.g)
}
