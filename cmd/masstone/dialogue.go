package main

import (
	"bufio"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
)

// A dialogue asks a person at the prompt, or takes lines that another program
// pipes in. Questions go to stderr.
type dialogue struct {
	env   *Env
	lines chan string // nil until the first line is asked for
	line  int         // of standard input, from 1
	fault error       // why there are no more lines, once there are none; nil at the end
}

func (e *Env) dialogue() *dialogue { return &dialogue{env: e} }

// listen reads lines aside, so that an interrupt is heard while one is waited
// for.
func (d *dialogue) listen(ctx context.Context) {
	d.lines = make(chan string)
	go func() {
		defer close(d.lines)
		s := bufio.NewScanner(d.env.Stdin)
		for s.Scan() {
			select {
			case d.lines <- s.Text():
			case <-ctx.Done():
				return
			}
		}
		d.fault = s.Err()
	}()
}

var errEnded = errors.New("the answers end here; nothing was stored")

// next gives the next line of standard input, io.EOF after the last.
func (d *dialogue) next(ctx context.Context) (string, error) {
	if d.lines == nil {
		d.listen(ctx)
	}
	select {
	case <-ctx.Done():
		return "", ctx.Err()
	case text, more := <-d.lines:
		if !more && d.fault != nil {
			return "", fmt.Errorf("standard input:%d: cannot be read, or is too long a line (%w); nothing was stored", d.line+1, d.fault)
		}
		if !more {
			return "", io.EOF
		}
		d.line++
		return strings.TrimSpace(text), nil
	}
}

// ask asks a question; an empty answer stands for the usual one.
func (d *dialogue) ask(ctx context.Context, question, usual string) (string, error) {
	if usual != "" {
		question += " (" + usual + ")"
	}
	fmt.Fprintf(d.env.Stderr, "%s: ", tidy(question))
	text, err := d.next(ctx)
	if err == io.EOF {
		fmt.Fprintln(d.env.Stderr)
		return "", errEnded
	}
	return cmp.Or(text, usual), err
}

// until asks until an answer will do: take says what is wrong with one.
func (d *dialogue) until(ctx context.Context, question, usual string, take func(string) error) error {
	for {
		text, err := d.ask(ctx, question, usual)
		if err != nil {
			return err
		}
		if err = take(text); err == nil {
			return nil
		}
		d.env.say("  %s", strings.TrimPrefix(err.Error(), "batch: "))
	}
}

// agrees asks for a yes or no; an empty answer is a yes.
func (d *dialogue) agrees(ctx context.Context, question string) (bool, error) {
	return d.decides(ctx, question+" [Y/n]", true)
}

// means asks for a yes or no; an empty answer is a no.
func (d *dialogue) means(ctx context.Context, question string) (bool, error) {
	return d.decides(ctx, question+" [y/N]", false)
}

func (d *dialogue) decides(ctx context.Context, question string, usual bool) (yes bool, err error) {
	err = d.until(ctx, question, "", func(text string) error {
		switch strings.ToLower(text) {
		case "":
			yes = usual
		case "y", "yes":
			yes = true
		case "n", "no":
			yes = false
		default:
			return fmt.Errorf("answer y or n")
		}
		return nil
	})
	return yes, err
}
