package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"strings"
)

// A dialogue asks a person at the prompt, or takes lines that another program
// pipes in. Questions go to stderr.
type dialogue struct {
	env   *Env
	lines chan string
	line  int // of standard input, from 1
}

func (e *Env) dialogue(ctx context.Context) *dialogue {
	d := &dialogue{env: e, lines: make(chan string)}
	go func() { // so that an interrupt is heard while a line is waited for
		defer close(d.lines)
		s := bufio.NewScanner(e.Stdin)
		for s.Scan() {
			select {
			case d.lines <- s.Text():
			case <-ctx.Done():
				return
			}
		}
	}()
	return d
}

// next gives the next line of standard input, io.EOF after the last.
func (d *dialogue) next(ctx context.Context) (string, error) {
	select {
	case <-ctx.Done():
		return "", ctx.Err()
	case text, more := <-d.lines:
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
		return "", fmt.Errorf("the answers end here; nothing was stored")
	}
	return firstText(text, usual), err
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
func (d *dialogue) agrees(ctx context.Context, question string) (yes bool, err error) {
	err = d.until(ctx, question+" [Y/n]", "", func(text string) error {
		switch strings.ToLower(text) {
		case "", "y", "yes":
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
