package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"masstone/recipes/papers"
)

// paperFlags say where and how a paper is written.
type paperFlags struct {
	out       string
	size      papers.Size
	shop      []string
	overwrite bool
}

const paperHelp = `--out writes it to a file whose ending says how: .pdf and .html to print (A4, or
--paper letter), .csv and .json for a program, .txt as on the terminal. --shop,
or MASSTONE_SHOP with a semicolon between the lines, heads it. Its QR code finds
it again: masstone open masstone:...`

// add adds the flags.
func (p *paperFlags) add(f *pflag.FlagSet, what string) {
	f.StringVar(&p.out, "out", "", "write "+what+" to `FILE`: .pdf, .html, .csv, .json or .txt")
	p.addSheet(f)
}

// addSheet adds the flags for what a paper looks like.
func (p *paperFlags) addSheet(f *pflag.FlagSet) {
	f.Var(parsed[papers.Size]{&p.size, papers.ParseSize, func(s papers.Size) string { return strings.ToLower(string(s)) }, "a4|letter"}, "paper", "size of paper of a .pdf or .html (a4)")
	f.StringArrayVar(&p.shop, "shop", nil, "who made it: name, then lines of the address (repeat it; else MASSTONE_SHOP)")
	f.BoolVar(&p.overwrite, "overwrite", false, "write over a .csv that is there already")
}

// check says what is wrong with the flags before anything is worked out.
func (p *paperFlags) check(env *Env) error {
	if p.out == "" {
		return nil
	}
	format, err := papers.FormatOf(p.out)
	if err != nil {
		return misuse{fmt.Errorf("--out %w", err)}
	}
	// a sheet may be printed again, but a table may hold readings filled in
	return env.free(p.out, p.overwrite || format != papers.CSV)
}

// heading is what every paper carries.
func (p *paperFlags) heading(env *Env) papers.Heading {
	return papers.Heading{Made: env.Now().Truncate(time.Second), Shop: p.maker(env)}
}

// maker is who made it: name, then lines of the address.
func (p *paperFlags) maker(env *Env) []string {
	shop := p.shop
	if named := env.Getenv("MASSTONE_SHOP"); len(shop) == 0 && named != "" {
		for line := range strings.SplitSeq(named, ";") {
			shop = append(shop, strings.TrimSpace(line))
		}
	}
	return shop
}

// deliver writes a batch's sheet to the file asked for, nil for none.
func (p *paperFlags) deliver(env *Env) func(papers.BatchSheet) error {
	if p.out == "" {
		return nil
	}
	return func(sheet papers.BatchSheet) error { return p.write(env, p.out, sheet) }
}

// put writes a paper to the file asked for, else as text to the terminal.
func (p *paperFlags) put(env *Env, paper papers.Paper) error {
	if p.out == "" {
		return papers.Write(env.Stdout, paper, papers.Text, papers.Options{Swatch: env.Color})
	}
	return p.write(env, p.out, paper)
}

// write writes a paper to a file.
func (p *paperFlags) write(env *Env, file string, paper papers.Paper) error {
	format, err := papers.FormatOf(file)
	if err != nil {
		return err
	}
	return env.write(file, func(w io.Writer) error {
		return papers.Write(w, paper, format, papers.Options{Size: p.size})
	})
}

// show puts a paper, or its document on --json, and says where it went.
func (p *paperFlags) show(env *Env, what string, paper papers.Paper) error {
	if p.out != "" {
		if err := p.write(env, p.out, paper); err != nil {
			return err
		}
	}
	switch {
	case env.JSON:
		return papers.Write(env.Stdout, paper, papers.JSON, papers.Options{})
	case p.out == "":
		return p.put(env, paper)
	}
	env.print("%s written to %s", tidy(what), tidy(p.out))
	return nil
}

// free refuses a file that is there already, unless it may be written over.
func (e *Env) free(name string, over bool) error {
	info, err := os.Stat(e.path(name))
	_, place := os.Stat(filepath.Dir(e.path(name)))
	switch {
	case place != nil:
		return fmt.Errorf("%s: cannot be written (%w); check the name and the folder", name, reason(place))
	case err == nil && info.IsDir():
		return fmt.Errorf("%s: is a folder; name a file in it", name)
	case err == nil && !over:
		return fmt.Errorf("%s: is there already; name another file, or add --overwrite", name)
	case err != nil && !errors.Is(err, os.ErrNotExist):
		return fmt.Errorf("%s: cannot be written (%w); check the name and the folder", name, reason(err))
	}
	return nil
}

// write writes a file whole or not at all.
func (e *Env) write(name string, fill func(io.Writer) error) error {
	path := e.path(name)
	fail := func(err error) error {
		var p *os.PathError
		var l *os.LinkError
		if errors.As(err, &p) {
			err = p.Err
		} else if errors.As(err, &l) {
			err = l.Err
		}
		return fmt.Errorf("%s: cannot be written (%w); check the name, the folder and its permissions", name, err)
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".masstone-*")
	if err != nil {
		return fail(err)
	}
	defer os.Remove(f.Name())
	w := bufio.NewWriter(f)
	if err := fill(w); err != nil {
		f.Close()
		return err
	}
	if err := errors.Join(w.Flush(), f.Chmod(0o644), f.Close()); err != nil {
		return fail(err)
	}
	if err := os.Rename(f.Name(), path); err != nil {
		return fail(err)
	}
	return nil
}
