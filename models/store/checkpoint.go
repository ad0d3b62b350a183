package store

import (
	"context"
	"os"
	"sync"
	"time"

	"gorm.io/gorm"
)

// checkpointer moves what was committed from SQLite's write-ahead log into the
// file beside the requests, so that no request waits for it, and cuts a log
// that a large transaction made long. Nothing depends on it: a log that grows
// beyond SQLite's own limit is moved by the writer.
type checkpointer struct {
	g     *gorm.DB
	log   string // path of the log
	ended chan struct{}
	quit  context.Context
	end   context.CancelFunc
	done  sync.WaitGroup
}

// checkpointEvery is after how many transactions: well below the 1000 pages at which
// the writer would do it itself, at some 30 pages for an inspection of ten wheels.
const checkpointEvery = 16

// Limits of the log, chosen by us.
const (
	// longestLog is the size in bytes above which the log is cut: twice the
	// 1000 pages at which the writer moves it, so that only large transactions
	// (an import, or a dry run of one) reach it.
	longestLog = 8 << 20

	// cutWait is how long a cut waits for readers, in milliseconds. Writers wait
	// for the cut.
	cutWait = "50"

	// cutAgain is when a cut is tried again after readers or a writer were in its way.
	cutAgain = time.Second
)

// startCheckpointer uses a connection of its own, g, to the database whose
// write-ahead log is the file of that name.
func startCheckpointer(g *gorm.DB, log string) *checkpointer {
	c := &checkpointer{g: g, log: log, ended: make(chan struct{}, checkpointEvery)}
	c.quit, c.end = context.WithCancel(context.Background())
	c.done.Go(c.run)
	return c
}

func (c *checkpointer) run() {
	again := time.NewTimer(0) // the log may be long from an earlier run
	defer again.Stop()

	pausing := true
	for n := 0; ; {
		select {
		case <-c.quit.Done():
			return
		case <-c.ended:
			n++
		case <-again.C:
			pausing = false
		}

		if n >= checkpointEvery {
			c.checkpoint("PASSIVE")
			n = 0
		}

		// Writers wait for a cut, so that one in vain is not tried again at once.
		if !pausing && c.isLong() && !c.cut() {
			pausing = true
			again.Reset(cutAgain)
		}
	}
}

func (c *checkpointer) isLong() bool {
	f, err := os.Stat(c.log)
	return err == nil && f.Size() > longestLog
}

// cut empties the log and cuts its file; false if readers or a writer are in
// the way. What can be moved beside the writers is moved first, since they wait
// for the rest.
func (c *checkpointer) cut() bool {
	return c.checkpoint("PASSIVE") && c.checkpoint("TRUNCATE")
}

// checkpoint reports whether nothing was in the way. An error comes back with
// the writer's next commit.
func (c *checkpointer) checkpoint(mode string) bool {
	db, err := c.g.DB()
	if err != nil {
		return false
	}
	var busy, pages, moved int
	err = db.QueryRow("PRAGMA wal_checkpoint("+mode+")").Scan(&busy, &pages, &moved)
	return err == nil && busy == 0
}

// transaction says that a transaction was committed or rolled back.
func (c *checkpointer) transaction() {
	select {
	case c.ended <- struct{}{}:
	default: // the next in the queue looks at the log after this one
	}
}

// stop may be called again, as may the Close of a database.
func (c *checkpointer) stop() error {
	c.end()
	c.done.Wait()
	return closeDB(c.g)
}
