package product

// padjig product trial, propose, proposed, approve and withdraw: how a revision comes into force
// at the terminal, by the rules of the station's page.

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/results"
	"padjig/results/answers"
	"padjig/results/answers/trial"
	"padjig/results/releases"
	"padjig/results/report"
	"padjig/results/runs"
	"padjig/sequence/product"
	"padjig/sequence/revise"
	"padjig/sequence/wording"
)

// proposing are the flags of these commands.
type proposing struct {
	store, by, reason, from string
	last                    int
	text                    bool
}

func newTrial() *cobra.Command {
	o := proposing{}
	cmd := &cobra.Command{
		Use:   "trial FILE",
		Short: "Show what a revision changes, and what it would have done",
		Long: `Says of each difference from what is in force whether it lets more through
(LOOSER), may hurt (RISK), is tighter or neither, and judges the last units anew,
each by its first judged run: which that passed would fail, which that failed would
pass, and whether the reference units would still show what they must. What the
records cannot show is said. Nothing is stored.`,
		Example: `  padjig product trial my-pad.yaml
  padjig product trial my-pad.yaml --last 2000`,
		Args: command.Exactly(1, "a product file"),
		RunE: func(cmd *cobra.Command, args []string) error { return o.try(cmd, args[0]) },
	}
	o.lastFlag(cmd)
	command.StoreFlag(cmd, &o.store)
	return cmd
}

func (o *proposing) lastFlag(cmd *cobra.Command) {
	cmd.Flags().IntVar(&o.last, "last", answers.Last, "judge the newest `N` units anew")
}

func (o *proposing) try(cmd *cobra.Command, file string) error {
	if o.last < 1 {
		return command.WrongUsef("--last %d: write how many units", o.last)
	}
	p, err := command.LoadProduct(cmd, file)
	if err != nil {
		return err
	}
	s, err := command.ReadStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer s.Close()
	tried, changes, err := o.tried(cmd, s, p)
	if err != nil {
		return err
	}
	show(terminal.Of(cmd.OutOrStdout()), p.Code, changes, tried)
	return nil
}

// tried is what a product changes, and what it would have done.
func (o *proposing) tried(cmd *cobra.Command, s *results.Store, p *product.Product) (releases.Tried, []revise.Change, error) {
	before, err := s.Releases.Against(cmd.Context(), p.Code)
	if err != nil {
		return releases.Tried{}, nil, command.RecordsFailed(s, err)
	}
	var changes []revise.Change
	if before != nil {
		changes = revise.Between(before, p)
	}
	t, err := trial.Of(cmd.Context(), s, trial.Asked{Proposed: p, InForce: before, Last: o.last})
	if err != nil {
		return releases.Tried{}, nil, command.RecordsFailed(s, err)
	}
	return t.Tried, changes, nil
}

// show says what changes, and what came of the trial.
func show(t terminal.Terminal, code string, changes []revise.Change, tried releases.Tried) {
	if len(changes) == 0 {
		fmt.Fprintln(t, "nothing is tested or drawn otherwise")
	}
	for _, c := range changes {
		fmt.Fprintf(t, "%-8s %s\n", t.Words.Class(c.Class), t.Wrap(9, t.Words.Change(c)))
	}
	fmt.Fprintln(t)
	for _, s := range trial.Words(code, tried) {
		fmt.Fprintf(t, "  %s\n", t.Wrap(2, report.Told(wording.Words{}, s)))
	}
	for _, c := range tried.Blind {
		fmt.Fprintf(t, "  %s\n", t.Wrap(2, "not seen by it: "+t.Words.Change(c)))
	}
}

func newPropose() *cobra.Command {
	o := proposing{}
	cmd := &cobra.Command{
		Use:   "propose FILE --reason WHY",
		Short: "Propose a revision for release; in force at once where it lets no more through",
		Long: `Proposes the revision that a product file defines, tried first as padjig product
trial does; what came of that is kept with it. Where it lets no more through than
what is in force, it is in force at once. Else a second person of quality or
engineer has to approve it, and --from-serial says the first unit that may be tested
by it: where serial numbers count in digits, earlier units are tested by the revision
before. A newer proposal takes the place of an older one.

It takes an engineer, who signs in with a password.`,
		Example: `  padjig product propose my-pad.yaml --reason "customer agreed" --from-serial GCC-004000-K`,
		Args:    command.Exactly(1, "a product file"),
		RunE:    func(cmd *cobra.Command, args []string) error { return o.propose(cmd, args[0]) },
	}
	f := cmd.Flags()
	f.StringVar(&o.reason, "reason", "", "`WHY`, in words")
	f.StringVar(&o.from, "from-serial", "", "`SERIAL` number of the first unit that may be tested by it")
	o.lastFlag(cmd)
	command.OperatorFlag(cmd, &o.by, "`NAME` of the engineer")
	command.StoreFlag(cmd, &o.store)
	command.Must(cmd.MarkFlagRequired("reason"))
	return cmd
}

func (o *proposing) propose(cmd *cobra.Command, file string) error {
	if o.last < 1 {
		return command.WrongUsef("--last %d: write how many units", o.last)
	}
	text, err := product.ReadFile(file)
	if err != nil {
		return command.Fail(command.Wrong, err, command.OtherProduct(err))
	}
	p, err := command.LoadProduct(cmd, file)
	if err != nil {
		return err
	}
	s, err := o.open(cmd, account.Engineers)
	if err != nil {
		return err
	}
	defer s.Close()
	tried, changes, err := o.tried(cmd, s, p)
	if err != nil {
		return err
	}
	asked, err := s.Releases.Propose(cmd.Context(), releases.Proposal{
		Code: p.Code, Label: p.Revision, Hash: p.Hash(), Source: string(text), By: o.by, Reason: o.reason, FromSerial: o.from, Trial: tried,
	})
	t := terminal.Of(cmd.OutOrStdout())
	if err != nil {
		return refused(t, s, p.Code, err)
	}
	show(t, p.Code, changes, tried)
	if asked.Released > 0 {
		fmt.Fprintf(t, "\n%s is in force, released by %s\n", command.Named(p.Code, p.Revision), o.by)
		return nil
	}
	fmt.Fprintf(t, "\n%s is proposed by %s from unit %s on, and not in force: it lets more through, or is a risk\n",
		command.Named(p.Code, p.Revision), o.by, asked.FromSerial)
	fmt.Fprintf(t, "  try: a second person of quality or engineer: padjig product approve %s %s%s\n", p.Code, asked.Look(), command.StoreArgument(s))
	return nil
}

// open opens the records for somebody who signs in with a password. Without accounts nobody
// answers for a release.
func (o *proposing) open(cmd *cobra.Command, who []account.Role) (*results.Store, error) {
	s, err := command.OpenStore(cmd.Context(), o.store)
	if err != nil {
		return nil, err
	}
	err = o.signIn(cmd, s, who)
	if err != nil {
		_ = s.Close() // nothing was written
		return nil, err
	}
	return s, nil
}

func (o *proposing) signIn(cmd *cobra.Command, s *results.Store, who []account.Role) error {
	list, err := s.Accounts.Accounts(cmd.Context())
	if err != nil {
		return command.RecordsFailed(s, err)
	}
	if len(list) == 0 {
		return command.Fail(command.Wrong, errors.New("there are no accounts, and nobody to answer for a release"),
			"padjig station accounts add NAME --role engineer"+command.StoreArgument(s))
	}
	acting, err := command.Prove(cmd, s, o.by, who)
	if err != nil {
		return err
	}
	o.by = acting.Name
	return acting.Weak()
}

// refused says in words why a proposal or an approval is refused.
func refused(t terminal.Terminal, s *results.Store, code string, err error) error {
	if r, is := errors.AsType[*releases.Refused](err); is {
		try := "padjig product proposed " + code + command.StoreArgument(s)
		switch r.Code {
		case releases.NoReason:
			try = "--reason with a sentence"
		case releases.NoSerial:
			try = "--from-serial with the number of a unit"
		}
		return command.Fail(command.Wrong, errors.New(t.Words.Release(string(r.Code), r.Args)), try)
	}
	if taken, is := errors.AsType[*runs.LabelTaken](err); is {
		return command.Fail(command.Wrong, taken, "a revision label of its own for the changed definition")
	}
	return command.RecordsFailed(s, err)
}

func newProposed() *cobra.Command {
	o := proposing{}
	cmd := &cobra.Command{
		Use:   "proposed CODE",
		Short: "Show what waits for a second person to approve it",
		Long: `Shows the proposal of a product that waits for approval: by whom, why, from which
unit on, what it changes and what it would have done. --text prints the product file
in place of that.`,
		Example: `  padjig product proposed GCC-20
  padjig product proposed GCC-20 --text >proposed.yaml`,
		Args: command.Exactly(1, "the code of a product"),
		RunE: func(cmd *cobra.Command, args []string) error { return o.proposed(cmd, args[0]) },
	}
	cmd.Flags().BoolVar(&o.text, "text", false, "print the product file")
	command.StoreFlag(cmd, &o.store)
	return cmd
}

func (o *proposing) proposed(cmd *cobra.Command, code string) error {
	s, err := command.ReadStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer s.Close()
	t := terminal.Of(cmd.OutOrStdout())
	asked, err := s.Releases.Open(cmd.Context(), code)
	switch {
	case err != nil:
		return command.RecordsFailed(s, err)
	case asked == nil:
		if err := o.sayWithdrawn(cmd, t, s, code); err != nil {
			return err
		}
		return refused(t, s, code, &releases.Refused{Code: releases.NothingAsked, Args: []string{code}})
	case o.text:
		fmt.Fprint(t, asked.Source)
		return nil
	}
	clock, err := command.PlantClock(cmd.Context(), s)
	if err != nil {
		return err
	}
	fmt.Fprintf(t, "%s, %.12s, proposed by %s, %s, from unit %s on\n  %s\n\n", command.Named(code, asked.Label), asked.Hash, asked.By,
		clock.Exact(asked.At), asked.FromSerial, t.Wrap(2, asked.Reason))
	show(t, code, asked.Changes, asked.Trial)
	fmt.Fprintf(t, "  try: a second person of quality or engineer: padjig product approve %s %s%s\n", code, asked.Look(), command.StoreArgument(s))
	return nil
}

func newApprove() *cobra.Command {
	o := proposing{}
	cmd := &cobra.Command{
		Use:   "approve CODE HASH",
		Short: "Approve what somebody else proposed: it is in force then",
		Long: `Puts the proposal of a product in force. HASH is that of the revision, as padjig
product proposed shows it: nothing else is approved than what was looked at. Where
the same text was proposed twice, perhaps from another unit on, it is followed by
the number of the proposal, as shown there: 4f0c2a9d11e7.3

It takes somebody of quality or engineer other than the one who proposed it, who
signs in with a password.`,
		Example: `  padjig product proposed GCC-20
  padjig product approve GCC-20 4f0c2a9d11e7`,
		Args: command.Exactly(2, "the code of a product and the hash of the revision"),
		RunE: func(cmd *cobra.Command, args []string) error { return o.approve(cmd, args[0], args[1]) },
	}
	command.OperatorFlag(cmd, &o.by, "`NAME` of whoever approves it")
	command.StoreFlag(cmd, &o.store)
	return cmd
}

func (o *proposing) approve(cmd *cobra.Command, code, hash string) error {
	s, err := o.open(cmd, account.Deciding)
	if err != nil {
		return err
	}
	defer s.Close()
	t := terminal.Of(cmd.OutOrStdout())
	done, err := s.Releases.Approve(cmd.Context(), code, hash, o.by)
	if err != nil {
		return refused(t, s, code, err)
	}
	fmt.Fprintf(t, "%s is in force from unit %s on, proposed by %s and approved by %s\n", command.Named(code, done.Label), done.FromSerial,
		done.By, done.Approved)
	return nil
}

func newWithdraw() *cobra.Command {
	o := proposing{}
	cmd := &cobra.Command{
		Use:   "withdraw CODE HASH --reason WHY",
		Short: "Withdraw a proposal that nobody has approved yet",
		Long: `Takes the proposal of a product back: it waits for nobody then. What is in force
stays in force, and an older proposal does not wait again because of it. The
proposal, who withdrew it and why stay in the records. HASH is that of the
revision, as padjig product proposed shows it, as to approve it.

It takes an engineer, the one who proposed it or another one, who signs in with a
password.`,
		Example: `  padjig product withdraw GCC-20 4f0c2a9d11e7 --reason "customer wants 150 ohm after all"`,
		Args:    command.Exactly(2, "the code of a product and the hash of the revision"),
		RunE:    func(cmd *cobra.Command, args []string) error { return o.withdraw(cmd, args[0], args[1]) },
	}
	cmd.Flags().StringVar(&o.reason, "reason", "", "`WHY`, in words")
	command.OperatorFlag(cmd, &o.by, "`NAME` of the engineer")
	command.StoreFlag(cmd, &o.store)
	command.Must(cmd.MarkFlagRequired("reason"))
	return cmd
}

func (o *proposing) withdraw(cmd *cobra.Command, code, hash string) error {
	s, err := o.open(cmd, account.Engineers)
	if err != nil {
		return err
	}
	defer s.Close()
	t := terminal.Of(cmd.OutOrStdout())
	done, err := s.Releases.Withdraw(cmd.Context(), code, hash, o.by, o.reason)
	if err != nil {
		return refused(t, s, code, err)
	}
	fmt.Fprintf(t, "the proposal of %s is withdrawn by %s\n", command.Named(code, done.Label), o.by)
	return nil
}

// sayWithdrawn says of the newest proposal who withdrew it, where somebody did.
func (o *proposing) sayWithdrawn(cmd *cobra.Command, t terminal.Terminal, s *results.Store, code string) error {
	taken, err := s.Releases.LastWithdrawn(cmd.Context(), code)
	if err != nil {
		return command.RecordsFailed(s, err)
	}
	if taken == nil {
		return nil
	}
	clock, err := command.PlantClock(cmd.Context(), s)
	if err != nil {
		return err
	}
	fmt.Fprintf(t, "%s, %.12s, proposed by %s, was withdrawn by %s, %s\n  %s\n", command.Named(code, taken.Label), taken.Hash, taken.By,
		taken.WithdrawnBy, clock.Exact(taken.WithdrawnAt), t.Wrap(2, taken.Why))
	return nil
}
