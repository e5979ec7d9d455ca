package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"
)

func (a *app) manCommand() *cobra.Command {
	var out string
	cmd := &cobra.Command{
		Use:   "man",
		Short: "Write the manual pages",
		Long: `Writes a manual page for fascia and for each of its commands, for section 1 of the manual.
SOURCE_DATE_EPOCH, where it is set, gives their date (reproducible-builds.org).`,
		Example: "  fascia man -o share/man/man1",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if out == "" {
				return errors.New("where to? Name a folder with -o")
			}
			if err := os.MkdirAll(out, 0o777); err != nil {
				return fmt.Errorf("write manual pages: %w", err)
			}
			header := &doc.GenManHeader{Section: "1", Manual: "fascia", Source: "fascia " + version()}
			if os.Getenv("SOURCE_DATE_EPOCH") == "" { // which the library goes by
				epoch := time.Unix(0, 0).UTC() // not today: the same source gives the same pages
				header.Date = &epoch
			}
			if err := doc.GenManTree(cmd.Root(), header, out); err != nil {
				return fmt.Errorf("write manual pages: %w", err)
			}
			pages, err := filepath.Glob(filepath.Join(out, "fascia*.1"))
			fmt.Fprintf(a.stdout, "%d pages: man %s\n", len(pages), filepath.Join(out, "fascia.1"))
			return err
		},
	}
	cmd.Flags().StringVarP(&out, "out", "o", "", "the folder to write to")
	return cmd
}
