package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/user"
	"path/filepath"
	"regexp"
	"time"

	"github.com/mattn/go-isatty"

	"masstone/recipes/outfile"
)

// Env is what the commands know of the world around them.
type Env struct {
	Stdin          io.Reader
	Stdout, Stderr io.Writer
	Now            func() time.Time // clock; nil for the one here, and for stamps the one of where the bench is
	Getenv         func(string) string
	Who            string // who is at the bench
	Dir            string // where relative paths start; empty for the working folder
	Color          bool   // Stdout shows swatches
	Live           bool   // Stderr is a terminal, which shows progress
	Asks           bool   // Stdin is a terminal, so that questions can be asked

	Bench string // --bench
	JSON  bool   // --json

	stored  *stored // so far
	damaged bool    // a damaged bench is opened too
}

func processEnv() *Env {
	return &Env{
		Stdin: os.Stdin, Stdout: os.Stdout, Stderr: os.Stderr,
		Getenv: os.Getenv, Who: whoIsThere(),
		Color: isatty.IsTerminal(os.Stdout.Fd()) && os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb",
		Live:  isatty.IsTerminal(os.Stderr.Fd()) && os.Getenv("TERM") != "dumb",
		Asks:  isatty.IsTerminal(os.Stdin.Fd()),
	}
}

// now is the time on the clock here.
func (e *Env) now() time.Time {
	if e.Now == nil {
		return time.Now()
	}
	return e.Now()
}

func whoIsThere() string {
	if u, err := user.Current(); err == nil && u.Username != "" {
		return u.Username
	}
	return os.Getenv("USER")
}

// say writes a line of talk, which is no result.
func (e *Env) say(format string, a ...any) {
	fmt.Fprintln(e.Stderr, tidy(worded(fmt.Sprintf(format, a...))))
}

// print writes a line of the result; what it advises is worded as the command line has it.
func (e *Env) print(format string, a ...any) {
	fmt.Fprintln(e.Stdout, worded(fmt.Sprintf(format, a...)))
}

// emit writes a result as JSON.
func (e *Env) emit(v any) error {
	text, err := encoded(v)
	if err != nil {
		return err
	}
	// what the verbs advise is worded as it is in text
	text = jsonText.ReplaceAllFunc(text, func(quoted []byte) []byte {
		var s string
		if !bytes.ContainsRune(quoted, '⟦') || json.Unmarshal(quoted, &s) != nil {
			return quoted
		}
		again, err := encoded(worded(s))
		if err != nil {
			return quoted
		}
		return bytes.TrimSpace(again)
	})
	_, err = e.Stdout.Write(text)
	return err
}

// jsonText is one text of a JSON document.
var jsonText = regexp.MustCompile(`"(?:[^"\\]|\\.)*"`)

func encoded(v any) ([]byte, error) {
	var out bytes.Buffer
	enc := json.NewEncoder(&out)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	err := enc.Encode(v)
	return out.Bytes(), err
}

// path places a relative path in Dir; no path stays none.
func (e *Env) path(name string) string {
	if e.Dir == "" || name == "" || filepath.IsAbs(name) {
		return name
	}
	return filepath.Join(e.Dir, name)
}

// file is a file to write.
func (e *Env) file(name string, over bool) outfile.File {
	return outfile.File{Path: e.path(name), Name: name, Over: over, Written: func() { e.noteWritten(name) }}
}

// reason leaves out the path that the os package puts in front.
func reason(err error) error {
	if p, ok := err.(*os.PathError); ok {
		return p.Err
	}
	return err
}

// title names a file in messages.
func title(name string) string {
	if name == "-" {
		return "standard input"
	}
	return name
}
