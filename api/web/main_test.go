package web_test

import (
	"testing"

	"rimledger/api/web/webtest"
)

func TestMain(m *testing.M) { webtest.Main(m) }
