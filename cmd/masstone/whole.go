package main

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/pflag"
)

// mostWhole is the largest whole number that flags take; what a command takes of
// them its verb says.
const mostWhole = 1_000_000_000

// parseWhole reads a whole number in decimal digits, as it stands on paper: 012
// is twelve.
func parseWhole(text string) (int, error) {
	n, err := strconv.Atoi(strings.TrimSpace(text))
	switch {
	case errors.Is(err, strconv.ErrRange), n > mostWhole, n < -mostWhole:
		return 0, errors.New("is out of range; give fewer digits")
	case err != nil:
		return 0, errors.New("is no whole number; write digits alone, such as 12")
	}
	return n, nil
}

// whole is a flag for a count or a version.
type whole struct{ value *int }

func (w whole) Type() string { return "number" }

func (w whole) String() string {
	if w.value == nil {
		return "0"
	}
	return strconv.Itoa(*w.value)
}

func (w whole) Set(text string) (err error) {
	n, err := parseWhole(text)
	if err == nil {
		*w.value = n
	}
	return err
}

// wholeVar adds a flag for a whole number, with the value it starts with.
func wholeVar(flags *pflag.FlagSet, value *int, name string, start int, usage string) {
	*value = start
	flags.Var(whole{value}, name, usage)
}

// wholes is a flag for several whole numbers, 2,5; it may be repeated.
type wholes struct{ values *[]int }

func (w wholes) Type() string { return "numbers" }

func (w wholes) String() string {
	if w.values == nil || len(*w.values) == 0 {
		return ""
	}
	return strings.Trim(fmt.Sprint(*w.values), "[]")
}

func (w wholes) Set(text string) error {
	for part := range strings.SplitSeq(text, ",") {
		n, err := parseWhole(part)
		if err != nil {
			return err
		}
		*w.values = append(*w.values, n)
	}
	return nil
}
