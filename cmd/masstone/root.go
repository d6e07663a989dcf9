package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"masstone/recipes/workbench"
)

// Exit codes.
const (
	exitDone   = 0
	exitFailed = 1
	exitMisuse = 2
)

// misuse is an error in how a command was called.
type misuse struct{ err error }

func (m misuse) Error() string { return m.err.Error() }
func (m misuse) Unwrap() error { return m.err }

func misusef(format string, a ...any) error { return misuse{fmt.Errorf(format, a...)} }

// execute runs one command line and returns its exit code. Errors are told on
// stderr, one line each, and no panic reaches the user.
func execute(ctx context.Context, env *Env, args []string) (code int) {
	env.stored = new(stored)
	defer func() {
		if fault := recover(); fault != nil {
			env.say("masstone %s: internal fault (%v); %s; please report this line and the command", build(), fault, env.wasStored())
			code = exitFailed
		}
	}()
	out := &errorWriter{w: env.Stdout}
	env.Stdout = out
	defer func() { env.Stdout = out.w }()
	root := newRootCommand(env)
	root.SetArgs(args)
	cmd, err := root.ExecuteContextC(ctx)
	if out.err != nil {
		err = fmt.Errorf("the result cannot be written (%w); make room or write it elsewhere", reason(out.err))
	}
	switch {
	case err == nil:
		return exitDone
	case (isMisuse(err) || namedByFlag(cmd, args, err)) && !env.hasStored():
		env.complain(err)
		return exitMisuse
	case ctx.Err() != nil:
		err = errors.New("interrupted")
	case out.err == nil && !env.hasStored():
		env.complain(err)
		return exitFailed
	}
	env.complain(fmt.Errorf("%w; %s", err, env.wasStored()))
	return exitFailed
}

// isMisuse tells whether an error is in what was asked.
func isMisuse(err error) bool {
	var wrong misuse
	return errors.As(err, &wrong) || workbench.KindOf(err) == workbench.Invalid
}

// namedByFlag tells whether a flag, and no argument, names what the bench does not know:
// a value that the flag does not take, like any other.
func namedByFlag(cmd *cobra.Command, words []string, err error) bool {
	name := strings.ToLower(workbench.UnknownName(err))
	if name == "" {
		return false
	}
	found := false
	for _, word := range words {
		if !slices.Contains(cmd.Flags().Args(), word) {
			found = found || strings.Contains(strings.ToLower(word), name)
		} else if strings.ToLower(word) == name {
			return false
		}
	}
	return found
}

// errorWriter is a writer that remembers what went wrong, since lines of a result
// are written without looking back.
type errorWriter struct {
	w   io.Writer
	err error
}

func (h *errorWriter) Write(p []byte) (int, error) {
	n, err := h.w.Write(p)
	if h.err == nil {
		h.err = err
	}
	return n, err
}

// complain tells an error, which has several lines if a file has several
// faults.
func (e *Env) complain(err error) {
	for line := range strings.SplitSeq(strings.TrimSpace(worded(err.Error())), "\n") {
		e.say("%s", line)
	}
}

func newRootCommand(env *Env) *cobra.Command {
	root := &cobra.Command{
		Use:   "masstone",
		Short: "Colour matching for cast resin parts: chips in, a weighed batch out",
		Long: `Colour matching for cast resin parts: readings of chips and of a part go in,
a weighed batch comes out.

  masstone demo          shows the whole job on an invented shop, step by step

All is kept in one file, the bench: --bench FILE, else the file that
MASSTONE_BENCH names, else bench.db in the user data folder. If none of these is
there and the working folder holds a single bench (*.db), it is that one. Several
shops may keep one bench in a PostgreSQL database: postgres://ROLE@HOST/DATABASE
in the place of FILE.

Every command takes --json; its help lists the keys. Results go to standard
output, remarks and errors to standard error. NO_COLOR turns swatches off.

Exit codes: 0 done; 1 failed (nothing is half-stored); 2 wrongly used.`,
		Version:       build(),
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return cmd.Help()
			}
			return unknownCommand(cmd, args[0])
		},
	}
	root.SetVersionTemplate("masstone {{.Version}}\n")
	root.SetIn(env.Stdin)
	root.SetOut(env.Stdout)
	root.SetErr(env.Stderr)
	root.SetCompletionCommandGroupID("program")
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error { return misuse{flagError(cmd, err)} })
	root.PersistentFlags().StringVar(&env.Bench, "bench", "", "`FILE` that holds the bench, or postgres://ROLE@HOST/DATABASE (else MASSTONE_BENCH, else the user data folder)")
	root.PersistentFlags().BoolVar(&env.JSON, "json", false, "print the result as JSON")
	root.AddGroup(
		&cobra.Group{ID: "shelf", Title: "The shelf:"},
		&cobra.Group{ID: "colour", Title: "From chips to a batch:"},
		&cobra.Group{ID: "pours", Title: "From a pour to the reorder:"},
		&cobra.Group{ID: "bench", Title: "The bench file:"},
		&cobra.Group{ID: "program", Title: "The program:"},
	)
	group := func(id string, commands ...*cobra.Command) {
		for _, c := range commands {
			c.GroupID = id
			root.AddCommand(c)
		}
	}
	group("shelf", newResinCommand(env), newPigmentCommand(env), newBackingCommand(env), newPlanCommand(env), newChipCommand(env), newReadingCommand(env), newLabelsCommand(env), newScaleCommand(env), newInstrumentCommand(env))
	group("colour", newFitCommand(env), newPredictCommand(env), newTargetCommand(env), newMatchCommand(env), newRecipeCommand(env), newBatchCommand(env), newOpenCommand(env))
	group("pours", newPourCommand(env), newCorrectCommand(env), newLotCommand(env), newStockCommand(env), newApproveCommand(env), newApprovalCommand(env), newReorderCommand(env), newFindCommand(env), newCertificateCommand(env), newRunCommand(env), newMouldCommand(env))
	group("bench", newInitCommand(env), newDemoCommand(env), newServeCommand(env), newExportCommand(env), newImportCommand(env), newBackupCommand(env), newRestoreCommand(env), newVerifyCommand(env), newLogCommand(env), newForgetCommand(env))
	group("program", newLicencesCommand(env), newManualCommand(env))
	return root
}

// newFamily is a command that only holds others.
func newFamily(use, short string, members ...*cobra.Command) *cobra.Command {
	cmd := &cobra.Command{
		Use:   use,
		Short: short,
		Args:  cobra.ArbitraryArgs,
		// the flags are of the member that was misspelt
		FParseErrWhitelist: cobra.FParseErrWhitelist{UnknownFlags: true},
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return misusef("%s: say what to do: %s", cmd.CommandPath(), memberNames(cmd))
			}
			return unknownCommand(cmd, args[0])
		},
	}
	cmd.AddCommand(members...)
	return cmd
}

func memberNames(cmd *cobra.Command) string {
	var names []string
	for _, c := range cmd.Commands() {
		if c.IsAvailableCommand() {
			names = append(names, c.Name())
		}
	}
	return strings.Join(names, ", ")
}

func unknownCommand(cmd *cobra.Command, word string) error {
	cmd.SuggestionsMinimumDistance = 2
	if near := cmd.SuggestionsFor(word); len(near) > 0 {
		return misusef("%s: unknown command %q; did you mean %s?", cmd.CommandPath(), word, strings.Join(near, " or "))
	}
	return misusef("%s: unknown command %q; it knows %s", cmd.CommandPath(), word, memberNames(cmd))
}

// flagError says in one line what is wrong with a flag and how to write it.
func flagError(cmd *cobra.Command, err error) error {
	var value *pflag.InvalidValueError
	var missing *pflag.ValueRequiredError
	var unknown *pflag.NotExistError
	switch {
	case errors.As(err, &value):
		cause := errors.Unwrap(value)
		if cause == nil {
			cause = err
		}
		return fmt.Errorf("--%s %q: %s", value.GetFlag().Name, value.GetValue(), withoutValue(strings.TrimPrefix(cause.Error(), "batch: "), value.GetValue()))
	case errors.As(err, &missing):
		return fmt.Errorf("--%s: needs a value; %s", missing.GetFlag().Name, missing.GetFlag().Usage)
	case errors.As(err, &unknown):
		name := unknown.GetSpecifiedName()
		if near := nearFlag(cmd, name); near != "" {
			return fmt.Errorf("%s: unknown flag --%s; did you mean --%s?", cmd.CommandPath(), name, near)
		}
		return fmt.Errorf("%s: unknown flag --%s; %s --help lists them", cmd.CommandPath(), name, cmd.CommandPath())
	}
	return fmt.Errorf("%s: %w", cmd.CommandPath(), err)
}

// withoutValue leaves out what an error says of the flag's value before it says
// what is wrong, such as: waste "10" could be ...
func withoutValue(text, value string) string {
	what, rest, found := strings.Cut(text, strconv.Quote(value))
	if !found || len(what) > 15 || strings.HasPrefix(what, "unknown") || strings.HasPrefix(rest, ";") {
		return text
	}
	return strings.TrimLeft(rest, ": ")
}

// nearFlag finds a flag whose name is close to the one given.
func nearFlag(cmd *cobra.Command, name string) string {
	var names []string
	look := func(f *pflag.Flag) {
		if !f.Hidden {
			names = append(names, f.Name)
		}
	}
	cmd.LocalFlags().VisitAll(look)
	cmd.InheritedFlags().VisitAll(look)
	if near := nearNames(name, names); len(near) > 0 {
		return near[0]
	}
	return ""
}

// nearNames lists the names that a word may have been meant for, by the
// spelling distance that cobra has for commands.
func nearNames(word string, names []string) []string {
	family := &cobra.Command{SuggestionsMinimumDistance: 2}
	for _, n := range names {
		family.AddCommand(&cobra.Command{Use: n, Run: func(*cobra.Command, []string) {}})
	}
	return family.SuggestionsFor(word)
}

// needs is the check of a command's arguments: exactly the named ones.
func needs(names ...string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) < len(names) {
			return misusef("%s: %s is missing; use %s", cmd.CommandPath(), names[len(args)], cmd.UseLine())
		}
		if len(args) > len(names) {
			return misusef("%s: %q is one argument too many; put names with spaces in quotes; use %s", cmd.CommandPath(), args[len(names)], cmd.UseLine())
		}
		return readCodes(cmd, names, args)
	}
}
