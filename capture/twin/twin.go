// Package twin runs a device's user interface, compiled to WebAssembly with the agent, in this
// process: the device end of the link without a device.
//
// A twin is a link.Stream. Its time is virtual and moves only while somebody waits for bytes,
// so settling and waiting cost nothing. A twin that traps or does not return is restarted as a
// watchdog would do it; the host sees another boot id.
//
// The module exports memory and five functions (README.md beside this file is their
// specification). It imports nothing, or WASI preview 1, for modules built with a C library.
package twin

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/tetratelabs/wazero"
	"github.com/tetratelabs/wazero/api"
	"github.com/tetratelabs/wazero/imports/wasi_snapshot_preview1"
)

// Flags that a step returns.
const (
	flagAgain = 1
	flagReset = 2
)

// Reset reasons of the link, as given to the module at boot.
const (
	resetPower    = 1
	resetAsked    = 2
	resetWatchdog = 4
	resetPanic    = 5
)

const (
	memoryPages = 1024            // 64 MiB: no microcontroller has more
	stepLimit   = 5 * time.Second // of real time in one step
	maxOut      = 1 << 20         // bytes that a module may hand over in one step
	maxRestarts = 3               // in a row, without a step that returned
)

// A Program is a compiled module; many twins can run it at the same time.
type Program struct {
	runtime wazero.Runtime
	module  wazero.CompiledModule
}

// Load compiles a module and checks that it is a twin.
func Load(ctx context.Context, wasm []byte) (*Program, error) {
	r := wazero.NewRuntimeWithConfig(ctx, wazero.NewRuntimeConfig().
		WithCloseOnContextDone(true).WithMemoryLimitPages(memoryPages))
	m, err := r.CompileModule(ctx, wasm)
	if err != nil {
		r.Close(ctx)
		return nil, fmt.Errorf("compile the twin: %w", err)
	}
	p := &Program{r, m}
	err = p.check()
	if err == nil && len(m.ImportedFunctions()) > 0 {
		if _, err = wasi_snapshot_preview1.Instantiate(ctx, r); err != nil {
			err = fmt.Errorf("offer WASI to the twin: %w", err)
		}
	}
	if err != nil {
		r.Close(ctx)
		return nil, err
	}
	return p, nil
}

func (p *Program) check() error {
	for _, f := range p.module.ImportedFunctions() {
		if module, name, _ := f.Import(); module != wasi_snapshot_preview1.ModuleName {
			return fmt.Errorf("the twin imports %s.%s: a twin imports nothing but %s", module, name, wasi_snapshot_preview1.ModuleName)
		}
	}
	for name, shape := range map[string][2]int{
		"fascia_twin_in": {0, 1}, "fascia_twin_in_size": {0, 1}, "fascia_twin_out": {0, 1},
		"fascia_twin_boot": {2, 0}, "fascia_twin_step": {2, 1}} {
		f, ok := p.module.ExportedFunctions()[name]
		if !ok {
			return fmt.Errorf("the module is no twin: it does not export %s", name)
		}
		if len(f.ParamTypes()) != shape[0] || len(f.ResultTypes()) != shape[1] {
			return fmt.Errorf("the module is no twin: %s takes %d values and returns %d, not %d and %d",
				name, len(f.ParamTypes()), len(f.ResultTypes()), shape[0], shape[1])
		}
	}
	if len(p.module.ExportedMemories()) == 0 {
		return errors.New("the module is no twin: it does not export its memory")
	}
	return nil
}

// Close frees the program and every twin that runs it.
func (p *Program) Close() error { return p.runtime.Close(context.Background()) }

// A Twin is one running device. It is not safe for concurrent use.
type Twin struct {
	p     *Program
	boots uint32
	now   time.Duration

	mod      api.Module
	ctx      context.Context
	cancel   context.CancelFunc
	watchdog *time.Timer
	limit    time.Duration
	step     api.Function
	in, size uint32
	out      uint32

	to, from []byte // bytes for the device, bytes from it
	printed  printed
	restarts int
	spins    int
	stack    [2]uint64
}

// Boot starts a device.
func (p *Program) Boot() (*Twin, error) { return p.bootWithin(stepLimit) }

// bootWithin is Boot with another bound of real time in one step.
func (p *Program) bootWithin(limit time.Duration) (*Twin, error) {
	t := &Twin{p: p, limit: limit}
	if err := t.boot(resetPower); err != nil {
		return nil, err
	}
	return t, nil
}

// bootID differs at each start and is the same in every run, as all of a twin is.
func bootID(boots uint32) uint32 { return boots * 0x9e3779b1 }

func (t *Twin) boot(reason uint64) error {
	t.shut()
	t.boots++
	t.ctx, t.cancel = context.WithCancel(context.Background())
	mod, err := t.p.runtime.InstantiateModule(t.ctx, t.p.module, t.config())
	if err != nil {
		return fmt.Errorf("start the twin: %w", err)
	}
	t.mod = mod
	t.watchdog = time.AfterFunc(t.limit, t.cancel)
	addr := func(name string) uint32 {
		r, callErr := mod.ExportedFunction(name).Call(t.ctx)
		if callErr != nil {
			err = callErr
			return 0
		}
		return uint32(r[0])
	}
	t.in, t.size, t.out = addr("fascia_twin_in"), addr("fascia_twin_in_size"), addr("fascia_twin_out")
	if err == nil {
		_, err = mod.ExportedFunction("fascia_twin_boot").Call(t.ctx, uint64(bootID(t.boots)), reason)
	}
	t.watchdog.Stop()
	if collectErr := t.collect(); err == nil {
		err = collectErr
	}
	if err != nil {
		return fmt.Errorf("start the twin: its firmware does not get through its boot: %s", t.why(err))
	}
	if t.size == 0 || t.size > 1<<16 {
		return fmt.Errorf("start the twin: its input buffer has %d bytes", t.size)
	}
	t.step = mod.ExportedFunction("fascia_twin_step")
	return nil
}

// why says in a few words what ended a call into the module.
func (t *Twin) why(err error) string {
	if t.ctx.Err() != nil {
		return fmt.Sprintf("it did not return within %v", t.limit)
	}
	return firstLine(err.Error())
}

func firstLine(s string) string {
	for i, r := range s {
		if r == '\n' {
			return s[:i]
		}
	}
	return s
}

func (t *Twin) shut() {
	if t.mod != nil {
		t.watchdog.Stop()
		t.cancel()
		t.mod.Close(context.Background())
		t.mod = nil
	}
}

// turn runs one step of the firmware at the present time.
func (t *Twin) turn() (again bool, err error) {
	n := min(len(t.to), int(t.size))
	if n > 0 && !t.mod.Memory().Write(t.in, t.to[:n]) {
		return false, errors.New("the twin's input buffer lies outside its memory")
	}
	t.stack = [2]uint64{uint64(uint32(t.now.Milliseconds())), uint64(n)}
	t.watchdog.Reset(t.limit)
	err = t.step.CallWithStack(t.ctx, t.stack[:])
	t.watchdog.Stop()
	t.to = t.to[n:]
	if collectErr := t.collect(); collectErr != nil {
		return false, collectErr
	}
	if err != nil {
		return true, t.restart(err)
	}
	t.restarts = 0
	if t.stack[0]&flagReset != 0 {
		t.to = nil
		return true, t.boot(resetAsked)
	}
	return t.stack[0]&flagAgain != 0 || len(t.to) > 0, nil
}

// restart is the watchdog: the firmware trapped, or did not return.
func (t *Twin) restart(cause error) error {
	reason, text := uint64(resetPanic), "trapped: "+t.why(cause)
	if t.ctx.Err() != nil {
		reason, text = resetWatchdog, "hung: "+t.why(cause)
	}
	t.from = append(t.from, "\ntwin: the firmware "+text+"; restarted\n"...)
	t.to = nil
	if t.restarts++; t.restarts > maxRestarts {
		return fmt.Errorf("the twin's firmware %s, %d times in a row", text, t.restarts)
	}
	return t.boot(reason)
}

// collect takes what the firmware wrote: a length of four bytes, then the bytes.
func (t *Twin) collect() error {
	defer func() { // after the step's frames, so as not to cut into one
		t.from = append(t.from, t.printed...)
		t.printed = t.printed[:0]
	}()
	mem := t.mod.Memory()
	if mem == nil {
		return errors.New("the twin has no memory")
	}
	n, ok := mem.ReadUint32Le(t.out)
	if !ok || n > maxOut {
		return fmt.Errorf("the twin's output buffer is not where it says: %d bytes", n)
	}
	if n == 0 {
		return nil
	}
	b, ok := mem.Read(t.out+4, n)
	if !ok {
		return errors.New("the twin's output runs past its memory")
	}
	t.from = append(t.from, b...)
	mem.WriteUint32Le(t.out, 0)
	return nil
}

// Close ends the twin.
func (t *Twin) Close() error {
	t.shut()
	return nil
}
