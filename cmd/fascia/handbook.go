package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/demo"
	"github.com/fascia-bench/fascia/suites/handbook"
)

func (a *app) handbookCommand() *cobra.Command {
	var bench, out, title, chart string
	var gaps, asJSON bool
	cmd := &cobra.Command{
		Use:   "handbook",
		Short: "An illustrated guide to the interface, from approved goldens and walks",
		Long: `Makes a folder of pages, of the same in Markdown, and of a map of screens. Its pictures are
the approved goldens, so it is as current as they are. What a picture shows stands in the
walk: look: {name: mild, note: "All values as on a mild morning."}

With --gaps it lists what no walk exercises, as far as the device tells what it has, and
exits with 1 if there is anything; a map that fascia wander made tells of more.`,
		Example: `  fascia handbook -o handbook
  fascia handbook --gaps
  fascia handbook --gaps --map wander/map.json`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if chart != "" {
				gaps = true
			}
			plan, err := suites.Prepare(bench, nil)
			if err != nil {
				return err
			}
			book, err := handbook.Read(plan, title)
			if err != nil {
				return err
			}
			if gaps {
				return a.gaps(cmd.Context(), plan, book, chart, asJSON)
			}
			if out == "" {
				return errors.New("where to? Name a folder with -o")
			}
			if err := book.Write(out); err != nil {
				return err
			}
			fmt.Fprintf(a.stdout, "%d screens, %d looks, %d targets: %s\n", len(book.Screens), len(book.Views), len(book.Targets), filepath.Join(out, handbook.IndexFile))
			return nil
		},
	}
	f := cmd.Flags()
	f.StringVar(&bench, "bench", benchFile, "the bench whose walks and goldens to show")
	f.StringVarP(&out, "out", "o", "", "the folder to write; an earlier handbook there is replaced")
	f.StringVar(&title, "title", "", "what the guide is called; else by its target")
	f.BoolVar(&gaps, "gaps", false, "list what no walk exercises, and write nothing")
	f.StringVar(&chart, "map", "", "a map by fascia wander, to find more gaps")
	f.BoolVar(&asJSON, "json", false, "print the gaps as JSON")
	return cmd
}

func (a *app) gaps(ctx context.Context, plan *suites.Plan, book *handbook.Book, chart string, asJSON bool) error {
	offers, err := offersOf(ctx, plan.Bench)
	if err != nil {
		return err
	}
	found := book.Gaps(plan, offers)
	if chart != "" {
		more, err := book.GapsOnMap(chart)
		if err != nil {
			return err
		}
		found = append(found, more...)
	}
	if len(found) > 0 {
		a.status = exitDiffers
	}
	if asJSON {
		return a.printJSON(append([]handbook.Gap{}, found...))
	}
	for _, g := range found {
		fmt.Fprintf(a.stdout, "%-7s %s\n", g.What, g.Says)
	}
	if len(found) == 0 {
		fmt.Fprintln(a.stdout, "the walks exercise everything that is known of")
	}
	return nil
}

// offersOf asks a device what it has.
func offersOf(ctx context.Context, b *bench.Bench) (o handbook.Offers, err error) {
	if b.IsDump() {
		return o, nil // it cannot be asked
	}
	twin, err := demo.Twin()
	if err != nil {
		return o, err
	}
	release, err := b.Lock(ctx, "fascia handbook", 0)
	if err != nil {
		return o, err
	}
	defer release()
	d, err := b.Open(ctx, bench.Options{BuiltIn: twin})
	if err != nil {
		return o, err
	}
	defer d.Close()
	o.Hello = d.Hello()
	if !o.Hello.Has(link.CanList) {
		return o, nil
	}
	if o.Keys, err = d.List(ctx, link.Keys); err == nil || errors.Is(err, link.ErrUnsupported) {
		o.Feeds, err = d.List(ctx, link.Feeds)
	}
	if errors.Is(err, link.ErrUnsupported) {
		err = nil
	}
	return o, err
}
