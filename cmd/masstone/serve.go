package main

import (
	"context"
	"crypto/rand"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"masstone/cmd/masstone/page"
	"masstone/recipes/workbench"
)

// serveFlags say where the bench page is served, and as whom.
type serveFlags struct {
	listen    string
	names     []string
	cert, key string
	qr        bool
	shop      []string
}

// served is where the bench page is.
type served struct {
	Address     string   `json:"address" doc:"of the page"`
	Addresses   []string `json:"addresses" doc:"all of them, the first is address"`
	Bench       string   `json:"bench" doc:"file"`
	Passcode    string   `json:"passcode,omitempty" doc:"made for this run, where none was given"`
	Fingerprint string   `json:"fingerprint,omitempty" doc:"SHA-256 of the certificate"`
}

// shortestPasscode is how long a passcode must be at least.
const shortestPasscode = 8

func newServeCommand(env *Env) *cobra.Command {
	var o serveFlags
	cmd := &cobra.Command{
		Use:   "serve",
		Short: "Open the bench in a browser",
		Long: `Serves the bench page: the same bench, the same verbs and the same numbers as the
commands, in a browser, until it is interrupted. Several people and commands may
work at once. It listens on this machine alone, or where --listen says:

  masstone serve
  masstone serve --listen :7357

Where others can reach it, it is TLS and asks for a passcode and a name. The
passcode is MASSTONE_PASSCODE, else a new one is printed. The certificate is that of
--cert, else one is made and kept in the user data folder: a browser warns of it
the first time, and should show the fingerprint that is printed here. It answers by
the addresses and the name of this machine; --name adds others, and --qr draws the
first of them to be scanned.

` + jsonKeys(served{}),
		Args: needs(),
		RunE: func(cmd *cobra.Command, args []string) error { return runServe(cmd.Context(), env, o) },
	}
	f := cmd.Flags()
	f.StringVar(&o.listen, "listen", "127.0.0.1:7357", "`ADDRESS` to listen on, host:port or :port for all networks; port 0 is any that is free")
	f.StringArrayVar(&o.names, "name", nil, "another `HOST` it is asked for by (may be repeated)")
	f.StringVar(&o.cert, "cert", "", "`FILE` with the certificate in PEM")
	f.StringVar(&o.key, "key", "", "`FILE` with its private key in PEM (else the file of --cert)")
	f.BoolVar(&o.qr, "qr", false, "draw the address as a QR code, to scan with a tablet")
	f.StringArrayVar(&o.shop, "shop", nil, "who made papers: name, then lines of the address (repeat it; else MASSTONE_SHOP)")
	return cmd
}

func runServe(ctx context.Context, env *Env, o serveFlags) error {
	host, _, err := net.SplitHostPort(o.listen)
	if err != nil {
		return misusef("--listen %q: is no host:port; write it as 127.0.0.1:8080, or :8080 for all networks", o.listen)
	}
	if o.key != "" && o.cert == "" {
		return misusef("--key: is the key of a certificate; give that with --cert")
	}
	for _, n := range o.names {
		if n == "" || strings.ContainsAny(n, "/:@ \t") && net.ParseIP(n) == nil {
			return misusef("--name %q: is no name of a host; write it without scheme and port, such as bench.example", n)
		}
	}
	if o.qr && env.JSON {
		return misusef("--qr: is drawn for a camera; leave out --json")
	}
	here := onlyHere(host)
	made := ""
	passcode := env.Getenv("MASSTONE_PASSCODE")
	switch {
	case here:
		passcode = ""
	case passcode == "":
		passcode = newPasscode()
		made = passcode
	case len(passcode) < shortestPasscode:
		return misusef("MASSTONE_PASSCODE: is shorter than %d letters; make it longer, or unset it and one is made", shortestPasscode)
	}
	return withBench(ctx, env, func(b *workbench.Bench) error {
		hosts := o.hosts(host)
		secure := !here || o.cert != ""
		var by *tls.Config
		if secure {
			known, err := o.certificate(env, hosts)
			if err != nil {
				return err
			}
			by = &tls.Config{Certificates: []tls.Certificate{known}, MinVersion: tls.VersionTLS12}
		}
		on, err := new(net.ListenConfig).Listen(ctx, "tcp", o.listen)
		if err != nil {
			return fmt.Errorf("--listen %s: cannot be used (%w); another program may have it: give another port, or port 0", o.listen, cause(err))
		}
		defer on.Close()
		paper := paperFlags{shop: o.shop}
		s, err := page.New(page.Options{Bench: b, Program: "masstone " + version, Who: env.Who, Shop: paper.maker(env), Now: env.Now,
			Hosts: hosts, Passcode: passcode, TLS: by, Log: env.say})
		if err != nil {
			return err
		}
		v := served{Bench: b.Path(), Passcode: made, Addresses: addresses(on, host, hosts, secure)}
		v.Address = v.Addresses[0]
		if secure {
			v.Fingerprint = fingerprint(by.Certificates[0])
		}
		if err := env.tellServed(v, o.qr); err != nil {
			s.Close()
			return err
		}
		if err := s.Serve(ctx, on); err != nil && !errors.Is(err, http.ErrServerClosed) {
			return fmt.Errorf("the server stopped (%w); start it again", err)
		}
		return nil
	})
}

func (e *Env) tellServed(v served, qr bool) error {
	if e.JSON {
		return e.emit(v)
	}
	if qr {
		code, err := drawnCode(v.Address, e.Color)
		if err != nil {
			return err
		}
		fmt.Fprint(e.Stdout, code)
	}
	e.print("The bench %s is at %s", tidy(v.Bench), strings.Join(v.Addresses, " and "))
	if v.Passcode != "" {
		e.print("passcode     %s", v.Passcode)
	}
	if v.Fingerprint != "" {
		e.print("fingerprint  %s", v.Fingerprint)
	}
	e.say("interrupt it (Ctrl-C) to stop; what is under way ends first")
	return nil
}

// hosts are the names and addresses it answers by.
func (o serveFlags) hosts(listen string) []string {
	out := []string{}
	add := func(h string) {
		if h = strings.ToLower(strings.TrimSuffix(h, ".")); h != "" && !slices.Contains(out, h) {
			out = append(out, h)
		}
	}
	for _, n := range o.names {
		add(n)
	}
	if ip := net.ParseIP(listen); listen != "" && (ip == nil || !ip.IsUnspecified()) {
		add(listen)
	}
	if !onlyHere(listen) {
		if name, err := os.Hostname(); err == nil {
			add(name)
			if !strings.Contains(name, ".") {
				add(name + ".local")
			}
		}
		all, _ := net.InterfaceAddrs()
		for _, a := range all {
			if n, is := a.(*net.IPNet); is && !n.IP.IsLoopback() && !n.IP.IsLinkLocalUnicast() {
				add(n.IP.String())
			}
		}
	}
	for _, h := range []string{"localhost", "127.0.0.1", "::1"} {
		add(h)
	}
	return out
}

// addresses are where the page is: what was asked for, else every address of this
// machine that others reach.
func addresses(on net.Listener, host string, hosts []string, secure bool) []string {
	scheme := "http://"
	if secure {
		scheme = "https://"
	}
	_, port, _ := net.SplitHostPort(on.Addr().String())
	if ip := net.ParseIP(host); host != "" && (ip == nil || !ip.IsUnspecified()) {
		return []string{scheme + net.JoinHostPort(host, port) + "/"}
	}
	var out []string
	for _, h := range hosts {
		if ip := net.ParseIP(h); ip != nil && !ip.IsLoopback() {
			out = append(out, scheme+net.JoinHostPort(h, port)+"/")
		}
	}
	if len(out) == 0 {
		out = append(out, scheme+net.JoinHostPort("127.0.0.1", port)+"/")
	}
	return out
}

// newPasscode makes one of 60 random bits, in fours.
func newPasscode() string {
	text := strings.ToLower(rand.Text())
	return text[:4] + "-" + text[4:8] + "-" + text[8:12]
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
