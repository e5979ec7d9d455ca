// Package golden keeps approved pictures and the record of who approved them.
//
// A golden is the whole picture that one look of one walk should show on one target. It comes out
// only if its pixels are those of the newest line of the look in the ledger, so a golden that was
// altered, mixed up in a merge or put there by hand is an error, not a reference. It goes in only
// through [Store.Approve], with a person and a reason.
//
// The folder is plain files, meant for git:
//
//	<target>/<walk>/<look>.png                the golden
//	<target>/<walk>/<look>.photo-<bench>.png  the golden for photos of one bench
//	<target>/inherits                         name of the target to look in next (one line)
//	ledger.jsonl                              one line per approval, in any order
//
// Names become file names by the rule of [FileName]. Lines of the ledger are chained per look (each
// names the hash of the line before it), so git may merge two ledgers by keeping all lines of both;
// two successors of one line are a fork, which [Store.Check] reports and the next approval settles.
//
// A crash at any moment leaves every look with its old or its new golden: see commit.go.
//
// Values in, values out: nothing here knows a link, a camera or a run.
package golden

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"
	"sync"
)

// Reasons not to hand out a golden or not to take an approval. Test for them with errors.Is.
var (
	// ErrNoGolden: nobody has approved this look yet. All other errors of Get mean that there is
	// something wrong with the store.
	ErrNoGolden = errors.New("no golden")
	// ErrMissing: the ledger has an approval, its picture is gone.
	ErrMissing = errors.New("golden is missing")
	// ErrAltered: the picture is not the one approved last.
	ErrAltered = errors.New("golden is not the approved picture")
	// ErrUnrecorded: there is a picture, and no approval of it in the ledger.
	ErrUnrecorded = errors.New("golden was never approved")
	// ErrForked: two approvals of different pictures follow the same line, or a lost one.
	ErrForked = errors.New("golden is forked")
	// ErrLedger: a line of the ledger cannot be read. The error names file and line.
	ErrLedger = errors.New("broken ledger")
	// ErrLink: a symbolic link stands where the store keeps a file or folder of its own.
	ErrLink = errors.New("symbolic link in the golden folder")
	// ErrInherits: a target's inherits file names no target, or leads back to its own.
	ErrInherits = errors.New("bad inheritance")
	// ErrName: a name from which no file name can be made.
	ErrName = errors.New("unusable name")
	// ErrApproval: an approval that lacks something or contradicts itself.
	ErrApproval = errors.New("unusable approval")
	// ErrStale: the golden is no longer the one that the approver saw.
	ErrStale = errors.New("golden has changed meanwhile")
	// ErrLocked: another process has been approving for longer than LockWait.
	ErrLocked = errors.New("golden folder is locked")
	// ErrUnfinished: the approvals are recorded and Get honours them, but not every picture has
	// its place yet. Check tells which, Repair settles it.
	ErrUnfinished = errors.New("approved, but not all pictures are in place")
)

const (
	ledgerFile   = "ledger.jsonl"
	ledgerNext   = ".ledger.jsonl.next" // the next ledger, until it takes its name
	inheritsFile = "inherits"
	// maxLineage bounds how many targets may inherit from one another in a row.
	maxLineage = 8
)

// Store is one golden folder. It is safe for concurrent use, by several processes too.
type Store struct {
	*shared
	photo string // file name of the bench whose photos this view is about, or ""
}

// shared is what a Store and its views of photos have in common.
type shared struct {
	fs   FS
	name string // of the folder, for messages

	approving sync.Mutex // goroutines queue here, processes at the lock file
	mu        sync.Mutex // guards read and its file
	read      *ledger    // as last read, so that it is read and parsed only when it has changed
}

// Open returns the store in the folder dir, which need not exist until something is approved.
func Open(dir string) (*Store, error) {
	switch info, err := os.Stat(dir); {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return nil, fmt.Errorf("open golden folder: %w", err)
	case !info.IsDir():
		return nil, fmt.Errorf("open golden folder %q: this is no folder", dir)
	}
	return New(Dir(dir), dir), nil
}

// New returns the store in fsys. The name stands for the folder in messages, usually its path.
func New(fsys FS, name string) *Store {
	return &Store{shared: &shared{fs: fsys, name: strings.TrimRight(name, "/")}}
}

// Photos returns a view of the same store whose looks are the photos of a bench, each with a golden
// and a history of its own beside that of the exact capture.
func (s *Store) Photos(bench string) (*Store, error) {
	name, err := FileName(bench)
	if err != nil {
		return nil, fmt.Errorf("photos of bench %q: %w", bench, err)
	}
	return &Store{shared: s.shared, photo: name}, nil
}

// at returns the path of one of the store's files for messages.
func (s *shared) at(file string) string { return s.name + "/" + file }
