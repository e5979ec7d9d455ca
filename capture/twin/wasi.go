package twin

import (
	"errors"
	"time"

	"github.com/tetratelabs/wazero"
	"github.com/tetratelabs/wazero/sys"
)

// printed is what a module wrote to its standard output and error output in a step.
type printed []byte

// Write takes at most maxOut bytes between two steps.
func (p *printed) Write(b []byte) (int, error) {
	if len(*p)+len(b) > maxOut {
		return 0, errors.New("the twin prints without end")
	}
	*p = append(*p, b...)
	return len(b), nil
}

// config is what a module that imports WASI sees of the world: nothing but the twin's own time and a place to
// print. Its clocks begin with 1970 at the first boot, sleeping returns at once, and random bytes are the same in each run.
func (t *Twin) config() wazero.ModuleConfig {
	return wazero.NewModuleConfig().WithName("").WithStartFunctions("_initialize").
		WithStdout(&t.printed).WithStderr(&t.printed).
		WithWalltime(func() (int64, int32) { return int64(t.now / time.Second), int32(t.now % time.Second) }, sys.ClockResolution(time.Millisecond)).
		WithNanotime(func() int64 { return int64(t.now) }, sys.ClockResolution(time.Millisecond)).
		WithNanosleep(func(int64) {})
}
