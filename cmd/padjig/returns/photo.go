package returns

// padjig returns photo: what can be seen goes away when a unit is cleaned.

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/testrun"
	"padjig/results"
	"padjig/results/returns"
)

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
		content, err := command.ReadAtMost(path, returns.MaxPhoto)
		kind, none := returns.KindOf(content)
		switch refused, _ := errors.AsType[*returns.RefusedError](none); {
		case err != nil:
			wrong = append(wrong, err.Error())
		case len(content) > returns.MaxPhoto:
			wrong = append(wrong, fmt.Sprintf("%s has more than %d MB", path, returns.MaxPhoto>>20))
		case refused != nil:
			wrong = append(wrong, path+": "+refused.Text)
		}
		pictures = append(pictures, picture{returns.Photo{ContentType: kind, Name: filepath.Base(path)}, content})
	}
	if len(wrong) > 0 {
		return nil, command.Fail(command.Wrong, fmt.Errorf("photos: %s; nothing was stored", strings.Join(wrong, "; ")),
			"JPEG, PNG, WebP or GIF files")
	}
	return pictures, nil
}

func keepPhotos(ctx context.Context, s *results.Store, c returns.Case, pictures []picture, by, note string) error {
	for _, p := range pictures {
		p.By, p.Note = by, note
		if _, err := s.Returns.AddPhoto(ctx, c, p.content, p.Photo); err != nil {
			return testrun.OfCase(s, c.Serial, err)
		}
	}
	return nil
}

func newPhoto() *cobra.Command {
	var flags caseFlags
	var by, note, none string
	cmd := &cobra.Command{
		Use:   "photo SERIAL FILE... --operator NAME",
		Short: "Keep photos with a case",
		Long: `Keeps photos with the newest case of a unit. They are copied into a folder beside
the records and named after the SHA-256 of what is in them, so that padjig
records check can tell whether they are what was taken. No stage of the case is
made before it has one. Where there can be none, --none says why.`,
		Example: `  padjig returns photo GCC-000001-3 front.jpg tail.jpg --operator Jon
  padjig returns photo GCC-000001-3 tail.jpg --note "crease 12 mm from the end" --operator Jon
  padjig returns photo GCC-000001-3 --none "the camera is broken" --operator Jon`,
		Args: command.AtLeast(1, command.OneSerial+" and a picture or more"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if (len(args) > 1) == (none != "") {
				return command.WrongUsef("give a picture or more, or --none with the reason")
			}
			pictures, err := readPhotos(args[1:])
			if err != nil {
				return err
			}
			return flags.with(cmd, command.OpenStore, args[0], func(s *results.Store, c returns.Case) error {
				if err := command.As(cmd, s, &by, account.Desk); err != nil {
					return err
				}
				if err := keepPhotos(cmd.Context(), s, c, pictures, by, note); err != nil {
					return err
				}
				if none != "" {
					if err := s.Returns.SayNoPhoto(cmd.Context(), c, returns.NoPhoto{Reason: none, By: by}); err != nil {
						return testrun.OfCase(s, c.Serial, err)
					}
				}
				fmt.Fprintf(cmd.OutOrStdout(), "kept with case %d: %s\n", c.Number, command.Count(len(pictures), "photo"))
				return nil
			})
		},
	}
	command.OperatorFlag(cmd, &by, "`NAME` of whoever took them")
	cmd.Flags().StringVar(&note, "note", "", "what they show")
	cmd.Flags().StringVar(&none, "none", "", "there can be no photo, for this `REASON`")
	flags.add(cmd)
	command.OperatorNeeded(cmd)
	return cmd
}
