package main

import (
	"fmt"
	"io"
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
	f.BoolVar(&p.overwrite, "overwrite", false, "write over a file that is there already")
}

// check says what is wrong with the flags before anything is worked out.
func (p *paperFlags) check(env *Env) error {
	if p.out == "" {
		return nil
	}
	if _, err := papers.FormatOf(p.out); err != nil {
		return misuse{fmt.Errorf("--out %w", err)}
	}
	return env.file(p.out, p.overwrite).Check()
}

// heading is what every paper carries.
func (p *paperFlags) heading(env *Env) papers.Heading {
	return papers.Heading{Made: env.now().Truncate(time.Second), Shop: p.maker(env)}
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
	mine := *p
	return func(sheet papers.BatchSheet) error {
		err := mine.write(env, mine.out, sheet)
		mine.overwrite = mine.overwrite || err == nil // where the sheet is stored in a second try
		return err
	}
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
	out := env.file(file, p.overwrite)
	out.Owner = namesClient(paper)
	return out.Write(func(w io.Writer) error {
		return papers.Write(w, paper, format, papers.Options{Size: p.size})
	})
}

// namesClient tells whether a paper is about a client's part.
func namesClient(paper papers.Paper) bool {
	switch paper.(type) {
	case papers.BatchSheet, papers.RecipeCard, papers.Certificate, papers.RunCertificate, papers.RunSheet:
		return true
	}
	return false
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
