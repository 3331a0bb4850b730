package inventory

import "context"

// PreviewNotice tells what a notice would mean if it were issued now. It
// changes nothing. What an inspecting one leaves outstanding is known only
// once it is issued.
func (s *Service) PreviewNotice(ctx context.Context, by Actor, in Notice) (NoticeStory, error) {
	return read(ctx, s, func(r Reader) (NoticeStory, error) {
		if err := by.must(ActKeepStock, ""); err != nil {
			return NoticeStory{}, err
		}
		in.Status, in.IssuedAt, in.IssuedBy, in.Item = NoticeOpen, s.Now(), by.Name, NormalCode(in.Item)
		if err := in.Check(); err != nil {
			return NoticeStory{}, err
		}
		in, err := namedItem(r, in)
		if err != nil {
			return NoticeStory{}, err
		}
		scene, err := sceneOf(r, in.Item)
		if err != nil {
			return NoticeStory{}, err
		}
		story := scene.story(in)
		story.Incidents, err = usesOf(r, in.Item, story.Batches)
		return story, err
	})
}

// Pull moves all that a withdrawing notice leaves outstanding in a place into
// the quarantine of that place's purpose.
func (s *Service) Pull(ctx context.Context, by Actor, notice int64, place string) ([]Movement, error) {
	return write(ctx, s, func(w Writer) ([]Movement, error) {
		if err := by.must(ActKeepStock, ""); err != nil {
			return nil, err
		}
		story, err := noticeStory(w, notice)
		if err != nil {
			return nil, err
		}
		if story.Action != NoticeWithdraw {
			return nil, Errorf(Conflict, "only a withdrawing notice pulls units out")
		}
		place = NormalCode(place)
		var ms []Movement
		for _, u := range story.PullFrom {
			if u.Place != place {
				continue
			}
			if err := by.must(ActKeepStock, u.Site); err != nil {
				return nil, err
			}
			ms = append(ms, Movement{LotID: u.LotID, Qty: u.Qty, From: u.Place, To: u.To, Reason: ReasonQuarantine, Reference: story.Reference})
		}
		if len(ms) == 0 {
			return nil, Errorf(Conflict, "nothing under this notice is left in that place")
		}
		return newPoster(w, by, s.Now()).post(ms, "movements")
	})
}
