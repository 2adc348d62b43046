package main

import (
	"context"
	"fmt"
	"net/http"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/station"
	"padjig/results"
	"padjig/results/returns"
)

// intakeOptions are the flags of padjig returns intake.
type intakeOptions struct {
	product, store, received, anyway string
	photos                           []string
	correct, json                    bool
	returns.Intake
}

func newReturnsIntake() *cobra.Command {
	var o intakeOptions
	cmd := &cobra.Command{
		Use:   "intake SERIAL --product FILE --complaint WORD --operator NAME",
		Short: "Take in a unit that came back",
		Long: `Opens a case for a unit that came back: what the customer says, in a word that
can be counted and in words of its own, and what can be seen. Take photos before
anything is cleaned or plugged in. A unit has one open case at a time, and while
it has one it is not tested for production.

Complaints:
` + listed(returns.Complaints) + `
Conditions:
` + listed(returns.Conditions) + `
Of these, ` + strings.Join(returns.Damaging, ", ") + ` end electrical testing: current would
tell no more, or change what can be seen. --test-anyway REASON tests all the same.

--correct adds an intake to the open case that counts in place of the last one;
nothing is overwritten.`,
		Example: `  padjig returns intake GCC-000001-3 --product pad.yaml --complaint "key dead" --operator Jon
  padjig returns intake GCC-000001-3 --product pad.yaml --complaint other --text hums --operator Jon`,
		Args: exactly(1, oneSerial),
		RunE: func(cmd *cobra.Command, args []string) error { return o.run(cmd, args[0]) },
	}
	f := cmd.Flags()
	f.StringVar(&o.product, "product", "", "product `FILE`")
	f.StringVar(&o.Complaint, "complaint", "", "what the customer says, in one of the `WORD`s above")
	f.StringVar(&o.ComplaintText, "text", "", "the same in `WORDS` of their own")
	f.StringArrayVar(&o.Conditions, "condition", nil, "what can be seen, in a `WORD` above; may be given more than once")
	f.StringVar(&o.ConditionText, "seen", "", "the same in `WORDS` of your own")
	f.StringVar(&o.anyway, "test-anyway", "", "test although damaged, for this `REASON`")
	f.StringVar(&o.received, "received", "", "`DAY` it came, such as 2026-11-25 (default today)")
	f.StringVar(&o.Customer, "customer", "", "whose it is")
	f.StringVar(&o.Lot, "lot", "", "lot it was made in, if it can be told")
	f.StringVar(&o.By, "operator", "", "`NAME` of whoever takes it in")
	f.StringArrayVar(&o.photos, "photo", nil, "picture `FILE` to keep with the case; may be given more than once")
	f.BoolVar(&o.correct, "correct", false, "correct the intake of the open case")
	f.BoolVar(&o.json, "json", false, "print the case as one JSON object")
	storeFlag(cmd, &o.store)
	needs(cmd, "product", "complaint", "operator")
	must(cmd.RegisterFlagCompletionFunc("complaint", cobra.FixedCompletions(returns.Complaints, cobra.ShellCompDirectiveNoFileComp)))
	must(cmd.RegisterFlagCompletionFunc("condition", cobra.FixedCompletions(returns.Conditions, cobra.ShellCompDirectiveNoFileComp)))
	return cmd
}

func (o *intakeOptions) run(cmd *cobra.Command, serial string) error {
	p, err := loadProduct(cmd, o.product)
	if err != nil {
		return err
	}
	if err := station.CheckSerial(p, serial); err != nil {
		return err
	}
	if err := o.complete(time.Now()); err != nil {
		return err
	}
	photos, err := readPhotos(o.photos)
	if err != nil {
		return err
	}
	s, err := openStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer s.Close()
	c, err := o.save(cmd.Context(), s, serial, p.Code)
	if err != nil {
		return ofCase(s, serial, err)
	}
	if err := keepPhotos(cmd.Context(), s, c, photos, o.By, ""); err != nil {
		return err
	}
	return showCase(cmd, s, c, o.json)
}

// complete fills in what the flags say in another form.
func (o *intakeOptions) complete(now time.Time) (err error) {
	o.Received = now
	if o.received != "" {
		if o.Received, err = time.ParseInLocation(time.DateOnly, o.received, time.Local); err != nil {
			return wrongUsef("--received %q: write a day such as %s", o.received, now.Format(time.DateOnly))
		}
	}
	o.EndsTesting = slices.ContainsFunc(o.Conditions, returns.IsDamage) && o.anyway == ""
	if o.anyway != "" {
		o.ConditionText = strings.TrimPrefix(o.ConditionText+"; tested anyway: "+o.anyway, "; ")
	}
	return nil
}

func (o *intakeOptions) save(ctx context.Context, s *results.Store, serial, product string) (returns.Case, error) {
	if !o.correct {
		return s.Returns.OpenCase(ctx, serial, product, o.Intake)
	}
	number, err := s.Returns.OpenCaseOf(ctx, serial)
	switch {
	case err != nil:
		return returns.Case{}, err
	case number == 0:
		return returns.Case{}, fmt.Errorf("%w: unit %s has no open case to correct", returns.ErrStage, serial)
	}
	c, err := s.Returns.Case(ctx, number)
	if err == nil {
		err = s.Returns.CorrectIntake(ctx, c, o.Intake)
	}
	if err != nil {
		return c, err
	}
	return s.Returns.Case(ctx, number)
}

// picture is a photo that was read and is not kept yet.
type picture struct {
	returns.Photo
	content []byte
}

// readPhotos reads all pictures before any is kept, and tells every one that
// cannot be.
func readPhotos(paths []string) (pictures []picture, err error) {
	var wrong []string
	for _, path := range paths {
		content, err := readAtMost(path, returns.MaxPhoto)
		kind := http.DetectContentType(content)
		switch {
		case err != nil:
			wrong = append(wrong, err.Error())
		case len(content) > returns.MaxPhoto:
			wrong = append(wrong, fmt.Sprintf("%s has more than %d MB", path, returns.MaxPhoto>>20))
		case !strings.HasPrefix(kind, "image/"):
			wrong = append(wrong, fmt.Sprintf("%s is no picture a browser shows (%s)", path, kind))
		}
		pictures = append(pictures, picture{returns.Photo{ContentType: kind, Name: filepath.Base(path)}, content})
	}
	if len(wrong) > 0 {
		return nil, fail(statusWrong, fmt.Errorf("photos: %s; nothing was stored", strings.Join(wrong, "; ")),
			"JPEG, PNG, WebP or GIF files")
	}
	return pictures, nil
}

func keepPhotos(ctx context.Context, s *results.Store, c returns.Case, pictures []picture, by, note string) error {
	for _, p := range pictures {
		p.By, p.Note = by, note
		if _, err := s.Returns.AddPhoto(ctx, c, p.content, p.Photo); err != nil {
			return ofCase(s, c.Serial, err)
		}
	}
	return nil
}

func newReturnsPhoto() *cobra.Command {
	var flags caseFlags
	var by, note string
	cmd := &cobra.Command{
		Use:   "photo SERIAL FILE... --operator NAME",
		Short: "Keep photos with a case",
		Long: `Keeps photos with the newest case of a unit. They are copied into a folder beside
the records and named after the SHA-256 of what is in them, so that padjig
records check can tell whether they are what was taken.`,
		Example: `  padjig returns photo GCC-000001-3 front.jpg tail.jpg --operator Jon
  padjig returns photo GCC-000001-3 tail.jpg --note "crease 12 mm from the end" --operator Jon`,
		Args: atLeast(2, oneSerial+" and a picture or more"),
		RunE: func(cmd *cobra.Command, args []string) error {
			pictures, err := readPhotos(args[1:])
			if err != nil {
				return err
			}
			return flags.with(cmd, openStore, args[0], func(s *results.Store, c returns.Case) error {
				if err := keepPhotos(cmd.Context(), s, c, pictures, by, note); err != nil {
					return err
				}
				fmt.Fprintf(cmd.OutOrStdout(), "kept with case %d: %s\n", c.Number, count(len(pictures), "photo"))
				return nil
			})
		},
	}
	cmd.Flags().StringVar(&by, "operator", "", "`NAME` of whoever took them")
	cmd.Flags().StringVar(&note, "note", "", "what they show")
	flags.add(cmd)
	must(cmd.MarkFlagRequired("operator"))
	return cmd
}
