package jobs_test

import (
	"testing"

	"go.uber.org/goleak"
)

// gorm's cache of prepared statements never ends its own goroutine; it holds
// nothing of ours.
func TestMain(m *testing.M) {
	goleak.VerifyTestMain(m, goleak.IgnoreTopFunction("gorm.io/gorm/internal/lru.NewLRU[...].func1"))
}
