package browser

import (
	"flag"
	"testing"

	"github.com/fascia-bench/fascia/cmd/fascia/internal/built"
)

var update = flag.Bool("update", false, "make the README's pictures of the review page again")

func TestMain(m *testing.M) { built.Main(m) }
