package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"time"

	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/review"
)

func (a *app) reviewCommand() *cobra.Command {
	var bench, listen, by string
	cmd := &cobra.Command{
		Use:   "review [RUN]",
		Short: "Serve a page to look at what differs and approve what was meant",
		Long: `Serves the review page of a run, by default the newest beside bench.yaml, until it is
interrupted. The address has a random token; whoever has it can look and approve. It is served on
this machine only, unless --listen says otherwise.

On the page choices are pencilled first and can be taken back. Writing them takes a reason and
puts all of them into golden/ledger.jsonl, or none.`,
		Example: "  fascia review\n  fascia review runs/2031-05-04-093000 --listen 127.0.0.1:7070",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			dir, err := runOrLatest(bench, args)
			if err != nil {
				return err
			}
			desk, err := suites.OpenDesk(dir, nil)
			if err != nil {
				return err
			}
			host, _, err := net.SplitHostPort(listen)
			if err != nil {
				return fmt.Errorf("--listen %q is not host:port: %w", listen, err)
			}
			if by == "" {
				by, _ = whoever("") // the page asks where git does not know
			}
			return a.review(cmd.Context(), desk, listen, host, by)
		},
	}
	cmd.Flags().StringVar(&bench, "bench", benchFile, "the bench whose newest run is meant")
	cmd.Flags().StringVar(&listen, "listen", "127.0.0.1:0", "address to serve on; port 0 takes a free one")
	cmd.Flags().StringVar(&by, "by", "", "who approves; git's user.name if not given")
	return cmd
}

func (a *app) review(ctx context.Context, desk *suites.Desk, listen, host, by string) error {
	l, err := net.Listen("tcp", listen)
	if err != nil {
		return fmt.Errorf("serve the review page: %w", err)
	}
	defer l.Close()
	_, port, err := net.SplitHostPort(l.Addr().String())
	if err != nil {
		return err
	}
	if !review.Loopback(host) {
		fmt.Fprintf(a.stderr, "fascia: warning: %s can be reached from other machines, without encryption: whoever sees the address can approve\n", listen)
		if ip := net.ParseIP(host); host == "" || ip != nil && ip.IsUnspecified() {
			host = outward()
		}
	}
	s := review.New(desk, review.Options{Who: by, Host: net.JoinHostPort(host, port)})
	fmt.Fprintf(a.stdout, "review of run %s: http://%s%s\n", desk.Run.Run, net.JoinHostPort(host, port), s.Path())
	fmt.Fprintln(a.stderr, "fascia: serving until interrupted (ctrl-c)")
	srv := s.HTTP()
	done := make(chan error, 1)
	go func() { done <- srv.Serve(l) }()
	select {
	case err = <-done:
	case <-ctx.Done():
		wait, cancel := context.WithTimeout(context.WithoutCancel(ctx), 900*time.Millisecond) // an approval under way is finished; one that is not is whole or absent
		defer cancel()
		if srv.Shutdown(wait) != nil {
			srv.Close()
		}
	}
	a.tellWritten(desk, s.Written())
	if errors.Is(err, http.ErrServerClosed) {
		err = nil
	}
	return err
}

func (a *app) tellWritten(desk *suites.Desk, written []review.Written) {
	var all []suites.Deed
	for _, w := range written {
		all = append(all, w.Deeds...)
		tellDeeds(a.stdout, desk.Run, w.Deeds)
		fmt.Fprintf(a.stdout, "%s by %s: %s\n", countDeeds(w.Deeds), w.Who, w.Why)
	}
	if len(all) == 0 {
		fmt.Fprintln(a.stdout, "nothing was written")
	}
}

// outward is an address of this machine that others may reach it by.
func outward() string {
	addrs, _ := net.InterfaceAddrs()
	for _, addr := range addrs {
		if n, ok := addr.(*net.IPNet); ok && !n.IP.IsLoopback() && n.IP.To4() != nil {
			return n.IP.String()
		}
	}
	return "127.0.0.1"
}
