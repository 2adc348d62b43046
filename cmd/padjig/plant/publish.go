package plant

// padjig plant publish and return: an office tells its stations what was decided.

import (
	"crypto/ed25519"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/object"
	publishing "padjig/cmd/padjig/serve/notices"
	"padjig/results"
	"padjig/results/notices"
	"padjig/results/plant/board"
	"padjig/results/plant/notice"
	"padjig/results/releases"
)

// signing are the flags of an office that signs.
type signing struct {
	store, plant, key, nextKey string
	json                       bool
}

func (o *signing) flags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&o.key, "key", "", "`FILE` with the private key that padjig plant key made")
	command.PlantFlag(cmd, &o.plant)
	command.Group(f, command.OfPlant, "key", "plant")
	command.JSONFlag(cmd, &o.json)
	command.StoreFlag(cmd, &o.store)
	command.Needs(cmd, "plant", "key")
}

// open opens what an office signs with, and for; done closes it.
func (o *signing) open(cmd *cobra.Command) (s *results.Store, p *publishing.Publisher, done func(), err error) {
	key, err := privateKey("key", o.key)
	if err != nil {
		return nil, nil, nil, err
	}
	db, err := command.OpenPlant(o.plant)
	if err != nil {
		return nil, nil, nil, err
	}
	if err := command.SameTables(cmd.Context(), db, "--plant"); err != nil {
		return nil, nil, nil, errors.Join(err, db.Close())
	}
	s, err = command.OpenStore(cmd.Context(), o.store)
	if err != nil {
		return nil, nil, nil, errors.Join(err, db.Close())
	}
	return s, &publishing.Publisher{Plant: db, Records: s.Notices, Key: key}, func() { _, _ = s.Close(), db.Close() }, nil // what was written is written
}

// issuing says in words why nothing was issued or put up.
func issuing(s *results.Store, err error) error {
	wrong, is := errors.AsType[notice.Mistake](err)
	switch {
	case errors.Is(err, notices.ErrNoNotices):
		return command.Fail(command.Wrong, fmt.Errorf("there are no notices in %s", s.Path()), "padjig plant publish at the office; at a station padjig station --plant-key")
	case errors.Is(err, notices.ErrOtherKey):
		return command.Fail(command.Wrong, err, "the file with that key; padjig plant key --show"+command.StoreArgument(s)+" prints the public one")
	case errors.Is(err, notices.ErrStation):
		return command.Fail(command.Wrong, err, "--store with the records of the office")
	case errors.Is(err, board.ErrOtherNotices):
		return command.Fail(command.Wrong, fmt.Errorf("%w than these records issued: another office publishes as well, these records were restored from a backup, or somebody changed them there", err),
			"find out which; if these records are the office's from now on: padjig plant publish --take-over")
	case is:
		return command.Fail(command.NotRecorded, fmt.Errorf("notices in %s: %w", s.Path(), wrong), "padjig records check"+command.StoreArgument(s))
	}
	return command.PlantTrouble(err)
}

type publishOptions struct {
	signing
	every           time.Duration
	takeOver        bool
	due             []string
	certificate, by string
}

func newPublish() *cobra.Command {
	var o publishOptions
	cmd := &cobra.Command{
		Use:   "publish --key FILE --plant ADDRESS",
		Short: "Sign what was decided at the office, and put it up for the stations",
		Long: `Makes a signed notice of everything that was decided in the office's records since
the last time - releases that came into force, accounts, lots - and puts it up in
the plant's database, with a signed word of how many notices there are now. Run it
every minute, or with --every: a station that hears nothing new for an hour says so.

What was signed and could not be put up is put up next time. With --due it says until
when a reference box, a reference unit or a jig may be used. With --next-key the
next key takes the place of this one, for every station, by one notice.

Done by two offices with records of their own the second one is refused. Records that
were restored from a backup are told of what they issued later by --take-over: it
stays in force at the stations, and is not decided again in these records.`,
		Example: `  padjig plant publish --key office.key --plant postgres://office@db/plant
  padjig plant publish --key office.key --plant postgres://office@db/plant --every 1m
  padjig plant publish --key office.key --plant postgres://office@db/plant \
    --due box:RB-7=2027-01-31 --certificate K-2231 --operator Ines`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error { return o.run(cmd) },
	}
	o.flags(cmd)
	f := cmd.Flags()
	f.StringVar(&o.nextKey, "next-key", "", "`FILE` with the private key that signs from now on")
	f.DurationVar(&o.every, "every", 0, "do so again after this `TIME`, until it is ended; 0 for once")
	f.BoolVar(&o.takeOver, "take-over", false, "take over notices at the plant that these records did not issue")
	f.StringArrayVar(&o.due, "due", nil, "last `DAY` of use as box:NAME=DAY, unit:NAME=DAY or jig:NAME=DAY,\nDAY such as 2027-01-31; may be given more than once")
	f.StringVar(&o.certificate, "certificate", "", "`NUMBER` of the certificate, or where it lies, for --due")
	command.OperatorFlag(cmd, &o.by, "`NAME` of the engineer, for --due")
	command.Group(f, command.OfPlant, "next-key", "every", "take-over", "due", "certificate")
	return cmd
}

func (o *publishOptions) run(cmd *cobra.Command) error {
	if o.every < 0 {
		return command.WrongUsef("--every %s: write a time such as 1m", o.every)
	}
	dates, err := o.dates()
	if err != nil {
		return err
	}
	further, next := notices.Further{}, ed25519.PrivateKey(nil)
	if o.nextKey != "" {
		if next, err = privateKey("next-key", o.nextKey); err != nil {
			return err
		}
		further.Next = notice.PublicOf(next)
	}
	s, p, done, err := o.open(cmd)
	if err != nil {
		return err
	}
	defer done()
	if len(dates) > 0 {
		if err := command.As(cmd, s, &o.by, account.Engineers); err != nil {
			return err
		}
		for i := range dates {
			dates[i].By = o.by
		}
		further.Dates = dates
	}
	if o.takeOver {
		taken, err := p.TakeOver(cmd.Context())
		if err != nil {
			return issuing(s, err)
		}
		fmt.Fprintf(cmd.ErrOrStderr(), "%s taken over\n", command.Count(taken, "notice"))
	}
	first, err := p.Once(cmd.Context(), further, next)
	if err != nil {
		return issuing(s, err)
	}
	if err := o.tell(cmd, first); err != nil || o.every == 0 {
		return err
	}
	publishing.NewOffice(p, o.every, func(again publishing.Published) {
		if len(again.Issued) > 0 && !o.json {
			_ = o.tell(cmd, again) // a terminal that is gone is no reason to tell the stations nothing
		}
	}).Run(cmd.Context())
	return nil
}

// dates reads --due, every mistake in it at once.
func (o *publishOptions) dates() (list []notices.Dated, err error) {
	var wrong []string
	for _, text := range o.due {
		of, rest, _ := strings.Cut(text, ":")
		at := strings.LastIndexByte(rest, '=')
		if at <= 0 || (of != "box" && of != "unit" && of != "jig") {
			wrong = append(wrong, fmt.Sprintf("%q: write box:NAME=DAY, unit:NAME=DAY or jig:NAME=DAY", text))
			continue
		}
		d := notices.Dated{Name: rest[:at], DatesBody: notice.DatesBody{Of: of, Due: rest[at+1:], Certificate: o.certificate}}
		if _, err := d.LastDay(); err != nil {
			wrong = append(wrong, fmt.Sprintf("%q: write the day such as 2027-01-31", text))
		}
		list = append(list, d)
	}
	if len(wrong) > 0 {
		return nil, command.WrongUsef("--due %s", strings.Join(wrong, "; "))
	}
	if o.certificate != "" && len(list) == 0 {
		return nil, command.WrongUsef("--certificate says nothing without --due")
	}
	return list, nil
}

func (o *signing) tell(cmd *cobra.Command, p publishing.Published) error {
	if o.json {
		return object.Print(cmd.OutOrStdout(), object.Published{Issued: command.Each(p.Issued, func(n notice.Notice) object.Notice {
			return object.NoticeOf(n, notices.IssuedHere)
		}), Put: p.Put, Count: p.Head.Count})
	}
	for _, n := range p.Issued {
		fmt.Fprintln(cmd.OutOrStdout(), strings.TrimSpace(fmt.Sprintf("notice %d: %s %s", n.Number, n.Kind, n.Subject)))
	}
	fmt.Fprintf(cmd.OutOrStdout(), "%s put up, %d in all\n", command.Count(p.Put, "notice"), p.Head.Count)
	return nil
}

func newReturn() *cobra.Command {
	var o signing
	var by, reason string
	cmd := &cobra.Command{
		Use:   "return CODE --reason WHY --key FILE --plant ADDRESS",
		Short: "Put the revision before in force again, at every station, in one step",
		Long: `Releases the revision of a product that was in force before the one that is, signs
a notice of it and puts it up: every station tests by it from its next unit on, once
it heard of it. Where the revision before lets more through than the one in force, a
second person has to approve it first, as ever; padjig plant publish then tells the
stations.

It takes an engineer, who signs in with a password.`,
		Example: `  padjig plant return GCC-20 --reason "the new limit fails good units" \
    --key office.key --plant postgres://office@db/plant --operator Ines`,
		Args: command.Exactly(1, "the code of a product"),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, p, done, err := o.open(cmd)
			if err != nil {
				return err
			}
			defer done()
			if by, err = engineer(cmd, s, by); err != nil {
				return err
			}
			asked, err := back(cmd, s, args[0], by, reason)
			if err != nil {
				return err
			}
			if asked.Released == 0 {
				fmt.Fprintf(cmd.OutOrStdout(), "%s is proposed, and in force nowhere: it lets more through\n  try: a second person of quality or engineer: padjig product approve %s %s%s, then padjig plant publish\n",
					command.Named(asked.Code, asked.Label), asked.Code, asked.Look(), command.StoreArgument(s))
				return nil
			}
			told, err := p.Once(cmd.Context(), notices.Further{}, nil)
			if err != nil {
				return issuing(s, err)
			}
			return o.tell(cmd, told)
		},
	}
	o.flags(cmd)
	cmd.Flags().StringVar(&reason, "reason", "", "`WHY`, in words")
	command.OperatorFlag(cmd, &by, "`NAME` of the engineer")
	command.Must(cmd.MarkFlagRequired("reason"))
	return cmd
}

// engineer is who answers for it, by a password.
func engineer(cmd *cobra.Command, s *results.Store, by string) (string, error) {
	list, err := s.Accounts.Accounts(cmd.Context())
	if err != nil {
		return "", command.RecordsFailed(s, err)
	}
	if len(list) == 0 {
		return "", command.Fail(command.Wrong, errors.New("there are no accounts, and nobody to answer for a release"),
			"padjig station accounts add NAME --role engineer"+command.StoreArgument(s))
	}
	acting, err := command.Prove(cmd, s, by, account.Engineers)
	if err != nil {
		return "", err
	}
	return acting.Name, acting.Weak()
}

// back proposes the revision that was in force before.
func back(cmd *cobra.Command, s *results.Store, code, by, reason string) (releases.Proposal, error) {
	asked, err := s.Releases.Return(cmd.Context(), code, "", by, reason)
	refused, isRefused := errors.AsType[*releases.Refused](err)
	switch {
	case errors.Is(err, releases.ErrNoneBefore):
		err = command.Fail(command.Wrong, fmt.Errorf("no revision of %s was in force before", code), "padjig product propose FILE"+command.StoreArgument(s))
	case isRefused:
		err = command.Fail(command.Wrong, errors.New(terminal.Of(cmd.OutOrStdout()).Words.Release(string(refused.Code), refused.Args)), "padjig plant return --help")
	case err != nil:
		err = command.RecordsFailed(s, err)
	}
	return asked, err
}
