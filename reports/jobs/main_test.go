package jobs_test

import (
	"testing"

	"go.uber.org/goleak"
)

// TestMain fails if a goroutine is left. gorm's cache of prepared statements never ends
// its own, which has none of our values.
func TestMain(m *testing.M) {
	goleak.VerifyTestMain(m, goleak.IgnoreTopFunction("gorm.io/gorm/internal/lru.NewLRU[...].func1"))
}
