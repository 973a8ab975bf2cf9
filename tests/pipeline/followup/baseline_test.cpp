#include "pipeline/followup/baseline.h"

#include <gtest/gtest.h>

namespace crestgate {
namespace {

using Stated = std::vector<std::optional<Intent>>;
using Chosen = std::vector<std::size_t>;

/// `parts`: 'p' where an image shows a part mounted, oldest first.
BaselineChoice choose(const Stated& stated, Baseline rule, const std::string& parts) {
  return choose_baseline(
      stated, rule, [&](std::size_t i) { return parts[i] == 'p'; }, Language());
}

constexpr auto kFirst = Baseline::first_after_loading;
const std::optional<Intent> kUnstated;

TEST(Baseline, NothingEarlierNothingChosen) {
  EXPECT_TRUE(choose({}, kFirst, "").chosen.empty());
  EXPECT_TRUE(choose({}, Baseline::last, "").why.empty());
}

TEST(Baseline, AViewTakenForAnotherQuestionIsPassedOver) {
  const Stated stated{Intent::placement, Intent::seating, Intent::follow_up, Intent::other};
  const BaselineChoice first = choose(stated, kFirst, "pppp");
  EXPECT_EQ(first.chosen, Chosen{1});
  EXPECT_EQ(first.why,
            "the first that shows a part mounted on the implant (seating view); left aside, taken "
            "for another question: 2");
  EXPECT_EQ(choose(stated, Baseline::last, "pppp").chosen, Chosen{2});
  EXPECT_EQ(choose(stated, Baseline::all, "pppp").chosen, (Chosen{1, 2}));
}

TEST(Baseline, ButTakenWhereThereIsNothingElse) {
  const Stated stated{Intent::placement, Intent::placement};
  for (const Baseline rule : {kFirst, Baseline::last, Baseline::all})
    EXPECT_NE(choose(stated, rule, "pp").why.find("none was taken for seating or follow-up"),
              std::string::npos);
  EXPECT_EQ(choose(stated, kFirst, "pp").chosen, Chosen{0});
  EXPECT_EQ(choose(stated, Baseline::last, "pp").chosen, Chosen{1});
}

TEST(Baseline, FirstAfterLoadingIsTheFirstWithAPart) {
  EXPECT_EQ(choose({kUnstated, kUnstated, kUnstated}, kFirst, ".pp").chosen, Chosen{1});
  // None is loaded: what was taken of the bone before what nobody explains.
  EXPECT_EQ(choose({kUnstated, Intent::follow_up}, kFirst, "..").chosen, Chosen{1});
  const BaselineChoice bare = choose({kUnstated, kUnstated}, kFirst, "..");
  EXPECT_EQ(bare.chosen, Chosen{0});
  EXPECT_NE(bare.why.find("the first of all"), std::string::npos);
  EXPECT_NE(bare.why.find("why it was taken is not stated"), std::string::npos);
}

TEST(Baseline, LastPrefersStatedOrLoadedOverUnexplained) {
  EXPECT_EQ(choose({Intent::follow_up, kUnstated}, Baseline::last, "..").chosen, Chosen{0});
  EXPECT_EQ(choose({Intent::follow_up, kUnstated}, Baseline::last, ".p").chosen, Chosen{1});
  EXPECT_EQ(choose({kUnstated, kUnstated}, Baseline::last, "..").chosen, Chosen{1});
}

TEST(Baseline, PicturesAreLookedAtOnlyWhereTheyDecide) {
  int looked = 0;
  const auto counting = [&](std::size_t) { return ++looked > 0; };
  choose_baseline({Intent::seating, Intent::follow_up}, Baseline::last, counting, Language());
  EXPECT_EQ(looked, 0);
  choose_baseline({Intent::placement, Intent::seating, Intent::follow_up}, kFirst, counting,
                  Language());
  EXPECT_EQ(looked, 1);
}

}  // namespace
}  // namespace crestgate
