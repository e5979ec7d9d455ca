package golden

import (
	"errors"
	"io/fs"
	"maps"
	"math/rand/v2"
	"path"
	"strings"
	"sync"
	"syscall"
	"testing/fstest"
)

// memFS is a folder in memory that knows what would be left of it if the machine stopped now. Like
// journalling file systems it keeps each change of a folder's entries whole (a rename happens or does
// not) and those of one folder in order; but until SyncDir it may keep any number of them, and of a
// file that was not synced any part.
type memFS struct {
	mu    sync.Mutex
	lock  sync.Mutex
	root  *node
	steps int                               // writing calls so far
	fail  func(step int, call string) fault // what happens to a writing call, nil: nothing
}

// fault is what happens to a call.
type fault int

const (
	works fault = iota
	fails       // returns an error and has no effect; a write has half of it
	lies        // takes effect and returns an error
)

type node struct {
	dir           bool
	data, synced  []byte
	live, durable map[string]*node
	log           []func(map[string]*node) // changes from durable to live
}

func newDir() *node {
	return &node{dir: true, live: map[string]*node{}, durable: map[string]*node{}}
}

func newMemFS() *memFS { return &memFS{root: newDir()} }

func (n *node) change(f func(map[string]*node)) {
	f(n.live)
	n.log = append(n.log, f)
}

// afterCrash returns what a restarted machine finds. keep tells how many of a number of unsynced things
// survive: changes of a folder, bytes of a file.
func (m *memFS) afterCrash(keep func(n int) int) *memFS {
	var rest func(*node) *node
	rest = func(n *node) *node {
		if !n.dir {
			data := n.synced
			if len(n.data) > len(data) {
				data = n.data[:len(data)+keep(len(n.data)-len(data))]
			}
			return &node{data: data, synced: data}
		}
		entries := maps.Clone(n.durable)
		for _, f := range n.log[:keep(len(n.log))] {
			f(entries)
		}
		out := newDir()
		for name, sub := range entries {
			out.live[name] = rest(sub)
		}
		out.durable = maps.Clone(out.live)
		return out
	}
	return &memFS{root: rest(m.root)}
}

func keepAll(n int) int { return n }
func keepNone(int) int  { return 0 }
func keepAny(seed uint64) func(int) int {
	rnd := rand.New(rand.NewPCG(seed, 1))
	return func(n int) int { return rnd.IntN(n + 1) }
}

// step counts a writing call and decides its fate.
func (m *memFS) step(call string) fault {
	m.steps++
	if m.fail == nil {
		return works
	}
	return m.fail(m.steps, call)
}

var errFault = &fs.PathError{Op: "injected", Path: "fault", Err: syscall.ENOSPC}

// do runs a writing call unless it is to fail.
func (m *memFS) do(call string, f func() error) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	switch m.step(call) {
	case fails:
		return errFault
	case lies:
		if err := f(); err != nil {
			return err
		}
		return errFault
	}
	return f()
}

func (m *memFS) find(name string) *node {
	n := m.root
	if name == "." {
		return n
	}
	for _, part := range strings.Split(name, "/") {
		if n = n.live[part]; n == nil {
			return nil
		}
	}
	return n
}

// parent returns the folder of name, which must exist.
func (m *memFS) parent(name string) (*node, string, error) {
	n := m.find(path.Dir(name))
	if n == nil || !n.dir {
		return nil, "", fs.ErrNotExist
	}
	return n, path.Base(name), nil
}

// snapshot shows the files as the standard library's in-memory file system, which has the reading side.
func (m *memFS) snapshot() fstest.MapFS {
	m.mu.Lock()
	defer m.mu.Unlock()
	out := fstest.MapFS{}
	var add func(string, *node)
	add = func(name string, n *node) {
		if n.dir {
			out[name] = &fstest.MapFile{Mode: fs.ModeDir | 0o777}
			for sub, n := range n.live {
				add(path.Join(name, sub), n)
			}
			return
		}
		out[name] = &fstest.MapFile{Data: n.data}
	}
	add(".", m.root)
	return out
}

func (m *memFS) ReadFile(name string) ([]byte, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	n := m.find(name)
	if n == nil {
		return nil, fs.ErrNotExist
	}
	return append([]byte(nil), n.data...), nil
}

func (m *memFS) ReadDir(name string) ([]fs.DirEntry, error) { return m.snapshot().ReadDir(name) }

func (m *memFS) Lstat(name string) (fs.FileInfo, error) {
	m.mu.Lock()
	n := m.find(name)
	m.mu.Unlock()
	if n == nil {
		return nil, fs.ErrNotExist
	}
	one := fstest.MapFS{"x": {Data: n.data}}
	if n.dir {
		one["x"].Mode = fs.ModeDir | 0o777
	}
	return one.Stat("x")
}

func (m *memFS) Mkdir(name string) error {
	return m.do("mkdir", func() error {
		p, base, err := m.parent(name)
		if err != nil {
			return err
		}
		d := newDir()
		p.change(func(e map[string]*node) { e[base] = d })
		return nil
	})
}

func (m *memFS) Create(name string) (File, error) {
	f := &node{}
	err := m.do("create", func() error {
		p, base, err := m.parent(name)
		if err != nil {
			return err
		}
		p.change(func(e map[string]*node) { e[base] = f })
		return nil
	})
	if err != nil {
		return nil, err
	}
	return &memFile{m, f}, nil
}

func (m *memFS) Rename(oldname, newname string) error {
	return m.do("rename", func() error {
		p, from, err := m.parent(oldname)
		if err != nil || p.live[from] == nil {
			return fs.ErrNotExist
		}
		if path.Dir(oldname) != path.Dir(newname) {
			return errors.New("the store promises to rename within a folder only")
		}
		n, to := p.live[from], path.Base(newname)
		p.change(func(e map[string]*node) { e[to] = n; delete(e, from) })
		return nil
	})
}

func (m *memFS) Remove(name string) error {
	return m.do("remove", func() error {
		p, base, err := m.parent(name)
		if err != nil || p.live[base] == nil {
			return fs.ErrNotExist
		}
		p.change(func(e map[string]*node) { delete(e, base) })
		return nil
	})
}

func (m *memFS) SyncDir(name string) error {
	return m.do("syncdir", func() error {
		n := m.find(name)
		if n == nil {
			return fs.ErrNotExist
		}
		n.durable, n.log = maps.Clone(n.live), nil
		return nil
	})
}

func (m *memFS) Lock() (func(), error) {
	m.lock.Lock()
	return m.lock.Unlock, nil
}

type memFile struct {
	m *memFS
	n *node
}

func (f *memFile) Write(b []byte) (int, error) {
	half := true
	err := f.m.do("write", func() error { f.n.data = append(f.n.data, b...); half = false; return nil })
	if err != nil && half {
		f.n.data = append(f.n.data, b[:len(b)/2]...)
		return len(b) / 2, err
	}
	return len(b), err
}

func (f *memFile) Sync() error {
	return f.m.do("sync", func() error { f.n.synced = append([]byte(nil), f.n.data...); return nil })
}

func (f *memFile) Close() error { return f.m.do("close", func() error { return nil }) }
