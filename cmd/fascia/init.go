package main

import (
	"context"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/link/line"
	"github.com/fascia-bench/fascia/suites/author"
)

func (a *app) initCommand() *cobra.Command {
	var device string
	cmd := &cobra.Command{
		Use:   "init [DIR]",
		Short: "bench.yaml, a first walk and a CI workflow in a firmware's repository",
		Long: `Looks round in the repository of a firmware and writes what fascia needs there: bench.yaml,
walks/start.yaml, .github/workflows/fascia.yml, and git's lines in .gitattributes and .gitignore. It asks
nothing: names come from git, the device is a twin (.wasm) in the tree, or else a serial port of this machine.
A serial port is not opened, since that may reset the board.

No file that is there is written over; git's files get the lines that they miss.`,
		Example: "  fascia init\n  fascia init firmware/ui --link 'serial:/dev/ttyACM0?baud=921600'",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			dir := "."
			if len(args) == 1 {
				dir = args[0]
			}
			if info, err := os.Stat(dir); err != nil || !info.IsDir() {
				return fmt.Errorf("there is no folder %s", dir)
			}
			f, err := look(cmd.Context(), dir)
			if err != nil {
				return err
			}
			if device != "" {
				f.Link, f.Others, f.Width, f.Clock = device, nil, 0, true
			}
			if strings.HasPrefix(f.Link, "twin:") {
				f = askTwin(cmd.Context(), dir, f)
			}
			done, err := author.Init(dir, f)
			for _, d := range done {
				fmt.Fprintf(a.stdout, "%-9s %s\n", d.What, filepath.Join(dir, filepath.FromSlash(d.File)))
			}
			if err != nil {
				return hinted{err, "what was written before stays; put this right and call fascia init again"}
			}
			a.tellNext(dir, f)
			return nil
		},
	}
	cmd.Flags().StringVar(&device, "link", "", "the device's link, instead of what is found")
	return cmd
}

func (a *app) tellNext(dir string, f author.Facts) {
	benchAt := ""
	if dir != "." {
		benchAt = " --bench " + filepath.Join(dir, benchFile)
	}
	switch {
	case f.Link == "":
		fmt.Fprintf(a.stdout, "\nNo device was found. Plug it in, see fascia bench ports, and write its port into bench.yaml.\n")
	case f.Width > 0:
		fmt.Fprintf(a.stdout, "\nThe device is %s, %dx%d %s.\n", f.Link, f.Width, f.Height, f.Format)
	default:
		fmt.Fprintf(a.stdout, "\nThe device should be at %s; nothing has been sent to it.\n", f.Link)
	}
	if f.Root == "" {
		fmt.Fprintln(a.stdout, "This is no git repository, so there is no workflow: after git init, call fascia init again.")
	}
	fmt.Fprintf(a.stdout, `Next:
  fascia capture%[1]s -o first.png    do they understand each other? (a board needs the agent: fascia agent)
  fascia run%[1]s                     walks the first walk; then look at its report
  fascia approve --all --reason "first goldens"
`, benchAt)
}

// look finds out what it can about a firmware's repository.
func look(ctx context.Context, dir string) (author.Facts, error) {
	full, err := filepath.Abs(dir)
	if err != nil {
		return author.Facts{}, err
	}
	f := author.Facts{Name: filepath.Base(full), Clock: true}
	if root, err := git(ctx, full, "rev-parse", "--show-toplevel"); err == nil {
		f.Root, f.Name = filepath.FromSlash(root), path.Base(root)
		if f.Prefix, err = git(ctx, full, "rev-parse", "--show-prefix"); err != nil {
			return f, err
		}
		if origin, err := git(ctx, full, "remote", "get-url", "origin"); err == nil {
			if i := strings.LastIndexAny(origin, "/:"); len(origin) > i+1 {
				f.Name = strings.TrimSuffix(origin[i+1:], ".git")
			}
		}
	}
	var found []string
	for _, file := range wasmFiles(full) {
		found = append(found, "twin:"+file)
	}
	ports, err := line.Ports()
	if err != nil {
		ports = nil // a machine without serial ports may not even be able to list them
	}
	for _, p := range ports {
		if p.VID != "" {
			found = append(found, portLink(p))
		} else { // a port that no board need be on, or a build that cannot tell
			f.Others = append(f.Others, portLink(p))
		}
	}
	var others []string
	for _, text := range found {
		if strings.HasPrefix(text, "twin:") && askTwin(ctx, dir, author.Facts{Link: text}).Width == 0 {
			continue // some other .wasm
		}
		if f.Link == "" {
			f.Link = text
		} else {
			others = append(others, text)
		}
	}
	f.Others = append(others, f.Others...)
	return f, nil
}

// portLink writes a port as a link: by its USB device where that is known, since paths change.
func portLink(p line.Port) string {
	if p.VID == "" {
		return "serial:" + p.Path + "?baud=115200"
	}
	usb := "serial:usb=" + p.VID + ":" + p.PID
	if p.Serial != "" {
		usb += ":" + p.Serial
	}
	return usb + "?baud=115200"
}

// mostWasm bounds how many modules are tried.
const mostWasm = 20

// wasmFiles lists WebAssembly modules in a tree, with slashes; folders of others' code are left out.
func wasmFiles(dir string) []string {
	var files []string
	err := filepath.WalkDir(dir, func(file string, d fs.DirEntry, err error) error {
		if err != nil {
			return nil // what cannot be read is not looked into
		}
		if d.IsDir() {
			if name := d.Name(); file != dir && (strings.HasPrefix(name, ".") || name == "node_modules" || name == "vendor" || name == "runs") {
				return fs.SkipDir
			}
			return nil
		}
		if strings.EqualFold(filepath.Ext(file), ".wasm") && d.Type().IsRegular() {
			if rel, err := filepath.Rel(dir, file); err == nil {
				files = append(files, filepath.ToSlash(rel))
			}
		}
		if len(files) >= mostWasm {
			return fs.SkipAll
		}
		return nil
	})
	if err != nil {
		return nil
	}
	return files
}

// askTwin starts a twin and takes over what it says; a module that is none leaves the facts as they are.
func askTwin(ctx context.Context, dir string, f author.Facts) author.Facts {
	b := bench.OnLink(f.Link)
	b.Dir = dir
	d, err := b.Open(ctx, bench.Options{})
	if err != nil {
		return f
	}
	defer d.Close()
	h := d.Hello()
	f.Width, f.Height, f.Format, f.Clock = h.Width, h.Height, h.Format.String(), h.Has(link.CanClock)
	return f
}
