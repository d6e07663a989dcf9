package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"strings"

	"github.com/spf13/cobra"

	"masstone/cmd/masstone/page"
	"masstone/recipes/workbench"
)

// serveFlags say where the bench page is served.
type serveFlags struct {
	listen string
	shop   []string
}

// served is where the bench page is.
type served struct {
	Address string `json:"address"`
	Bench   string `json:"bench"`
}

func newServeCommand(env *Env) *cobra.Command {
	var o serveFlags
	cmd := &cobra.Command{
		Use:   "serve",
		Short: "Open the bench in a browser",
		Long: `Serves the bench page: the same bench, the same verbs and the same numbers as the
commands, in a browser, until it is interrupted. It listens on this machine only,
or where --listen says. Several people and commands may work at once.

  masstone serve
  masstone serve --listen 127.0.0.1:8080

` + jsonKeys(served{}),
		Args: needs(),
		RunE: func(cmd *cobra.Command, args []string) error { return runServe(cmd.Context(), env, o) },
	}
	f := cmd.Flags()
	f.StringVar(&o.listen, "listen", "127.0.0.1:7357", "`ADDRESS` to listen on, host:port; port 0 is any that is free")
	f.StringArrayVar(&o.shop, "shop", nil, "who made papers: name, then lines of the address (repeat it; else MASSTONE_SHOP)")
	return cmd
}

func runServe(ctx context.Context, env *Env, o serveFlags) error {
	host, _, err := net.SplitHostPort(o.listen)
	if err != nil {
		return misusef("--listen %q: is no host:port; write it as 127.0.0.1:8080", o.listen)
	}
	if !onlyHere(host) {
		return misusef("--listen %s: others could reach the bench there; give an address of this machine alone, such as 127.0.0.1:8080", o.listen)
	}
	return withBench(ctx, env, func(b *workbench.Bench) error {
		paper := paperFlags{shop: o.shop}
		s, err := page.New(page.Options{Bench: b, Program: "masstone " + version, Who: env.Who, Shop: paper.maker(env), Now: env.Now,
			Hosts: []string{"localhost", "127.0.0.1", "::1", strings.ToLower(host)}, Log: env.say})
		if err != nil {
			return err
		}
		on, err := new(net.ListenConfig).Listen(ctx, "tcp", o.listen)
		if err != nil {
			s.Close()
			return fmt.Errorf("--listen %s: cannot be used (%w); another program may have it: give another port, or port 0", o.listen, cause(err))
		}
		v := served{"http://" + on.Addr().String() + "/", b.Path()}
		if env.JSON {
			if err := env.emit(v); err != nil {
				return err
			}
		} else {
			env.print("The bench %s is at %s", tidy(v.Bench), v.Address)
			env.say("interrupt it (Ctrl-C) to stop; what is under way ends first")
		}
		if err := s.Serve(ctx, on); err != nil && !errors.Is(err, http.ErrServerClosed) {
			return err
		}
		return nil
	})
}

// onlyHere tells whether only this machine reaches an address.
func onlyHere(host string) bool {
	ip := net.ParseIP(host)
	return strings.EqualFold(host, "localhost") || ip != nil && ip.IsLoopback()
}

// cause is what went wrong below a network error.
func cause(err error) error {
	var op *net.OpError
	if errors.As(err, &op) {
		return op.Err
	}
	return err
}
