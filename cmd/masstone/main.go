// Command masstone takes readings of pigmented resin chips and of a part, and
// gives a weighed batch.
//
// The commands translate flags and files for the packages and print what the
// packages answer; they compute nothing themselves. Results go to stdout, talk
// to stderr. Exit codes: 0 done, 1 failed, 2 wrongly used.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
)

func main() { os.Exit(start()) }

// start runs the program in the process's own surroundings.
func start() int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop) // a second interrupt ends it at once
	return execute(ctx, processEnv(), os.Args[1:])
}
