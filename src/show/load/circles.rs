//! Finds circles among time expressions: what would have to be known before it is known.

use std::collections::{BTreeSet, HashMap, HashSet};

use super::reader::Faults;
use crate::show::{
    Anchor, Block, Fault, Figure, Name, PointName, Profile, Show, TimeExpression, Track, Wording,
};

/// Something whose time must be known.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
enum Node {
    Show,
    Point(Name, PointName),
}

/// What a time hangs on, and the expression that says so, if one does.
type Link<'s> = (Node, Option<&'s TimeExpression>);

/// Longest circle spelt out in full.
const LONGEST_SPELT: usize = 12;

/// A fault for every circle, in any profile, once.
pub(super) fn check(show: &Show, faults: &Faults) {
    let mut told: HashSet<BTreeSet<Node>> = HashSet::new();
    for profile in &show.profiles {
        let graph = Graph::new(show, profile);
        for circle in graph.circles() {
            if told.insert(circle.iter().map(|(node, _)| node.clone()).collect()) {
                fault(&circle).add(faults);
            }
        }
    }
}

/// The circle, begun at the expression that comes first in the document.
fn fault(circle: &[Link<'_>]) -> Fault {
    let place = |i: &usize| circle[*i].1.map_or(usize::MAX, |time| time.at.start);
    let first = (0..circle.len()).min_by_key(place).unwrap_or(0);
    let names: Vec<String> = (0..=circle.len())
        .map(|i| match &circle[(first + i) % circle.len()].0 {
            Node::Show => "show".to_owned(),
            Node::Point(id, point) => format!("{id}.{point}"),
        })
        .collect();
    let spelt = if names.len() > LONGEST_SPELT {
        format!(
            "{} → … → {}",
            names[..LONGEST_SPELT / 2].join(" → "),
            names[names.len() - LONGEST_SPELT / 2..].join(" → ")
        )
    } else {
        names.join(" → ")
    };
    let at = circle[first].1.map_or(0..0, |time| time.at.clone());
    Fault::error(at, format!("these times wait for each other: {spelt}"))
        .help("each is measured from the next; measure one of them from something else")
}

/// What each time hangs on, in one profile.
struct Graph<'s> {
    links: HashMap<Node, Vec<Link<'s>>>,
    order: Vec<Node>,
}

impl<'s> Graph<'s> {
    fn new(show: &'s Show, profile: &Profile) -> Self {
        let mut graph = Graph {
            links: HashMap::new(),
            order: Vec::new(),
        };
        if let Some(zero) = &show.zero {
            graph.link(Node::Show, Some(zero));
        }
        let figures: HashMap<&Name, &Figure> = show
            .figures
            .iter()
            .map(|figure| (&figure.id, figure))
            .collect();
        let flown: Vec<&Figure> = profile
            .order
            .iter()
            .filter_map(|id| figures.get(id).copied())
            .collect();
        let mut last: HashMap<&Name, &Figure> = HashMap::new();
        let mut seen = HashSet::new();
        for figure in flown {
            let again = !seen.insert(&figure.id);
            for aircraft in &figure.aircraft {
                let before = last.insert(aircraft, figure);
                // A figure flown again is a thing of its own, which expressions do not name.
                if let Some(before) = before
                    && figure.starts.is_none()
                    && !again
                {
                    graph.point(&figure.id, PointName::Start, &before.id, PointName::End);
                }
            }
            if !again {
                graph.figure(figure);
            }
        }
        show.blocks.iter().for_each(|block| graph.block(block));
        show.tracks.iter().for_each(|track| graph.track(track));
        graph
    }

    fn figure(&mut self, figure: &'s Figure) {
        self.link(node(&figure.id, PointName::Start), figure.starts.as_ref());
        // Every other point follows from the start; which of them exist was checked before.
        self.point(&figure.id, PointName::End, &figure.id, PointName::Start);
    }

    fn block(&mut self, block: &'s Block) {
        self.link(node(&block.id, PointName::Start), block.starts.as_ref());
        self.point(&block.id, PointName::End, &block.id, PointName::Start);
        let end = node(&block.id, PointName::End);
        for time in block
            .text
            .waits()
            .chain(block.short.iter().flat_map(Wording::waits))
        {
            self.link(end.clone(), Some(time));
        }
        if block.short.is_some() {
            // Which version is said, and so when it ends, hangs on when it must end.
            self.link(end, block.ends_by.as_ref());
        }
    }

    fn track(&mut self, track: &'s Track) {
        let start = node(&track.id, PointName::Start);
        let meets = track.meets.as_ref().map(|meet| &meet.on);
        self.link(start.clone(), track.starts.as_ref());
        self.link(start, meets);
        let end = node(&track.id, PointName::End);
        if track.ends.is_some() {
            self.link(end, track.ends.as_ref());
        } else {
            self.point(&track.id, PointName::End, &track.id, PointName::Start);
        }
    }

    fn point(&mut self, id: &Name, point: PointName, of: &Name, on: PointName) {
        self.add(node(id, point), (node(of, on), None));
    }

    fn link(&mut self, from: Node, time: Option<&'s TimeExpression>) {
        let Some(time) = time else { return };
        let to = match &time.anchor {
            Anchor::Clock(_) => return,
            Anchor::Show => Node::Show,
            Anchor::Point { of, point } => node(of, point.clone()),
        };
        self.add(from, (to, Some(time)));
    }

    fn add(&mut self, from: Node, link: Link<'s>) {
        if let Node::Point(id, _) = &link.0 {
            let start = node(id, PointName::Start);
            // Abeam, gates, hits: all follow from the start of what they belong to.
            let follows = !matches!(link.0, Node::Point(_, PointName::Start | PointName::End));
            if follows && !self.links.contains_key(&link.0) {
                self.order.push(link.0.clone());
                self.links.insert(link.0.clone(), vec![(start, None)]);
            }
        }
        if !self.links.contains_key(&from) {
            self.order.push(from.clone());
        }
        self.links.entry(from).or_default().push(link);
    }

    /// Circles, each as its nodes with the link that leaves each of them. A walk in depth, with its
    /// own stack: a show can be a chain of thousands.
    fn circles(&self) -> Vec<Vec<Link<'s>>> {
        let mut circles = Vec::new();
        let mut done: HashSet<&Node> = HashSet::new();
        for root in &self.order {
            let mut path: Vec<(&Node, usize)> = Vec::new();
            let mut on_path: HashMap<&Node, usize> = HashMap::new();
            let mut next = Some(root);
            loop {
                if let Some(node) = next.take()
                    && !done.contains(node)
                {
                    if let Some(&begin) = on_path.get(node) {
                        circles.push(self.circle(&path[begin..]));
                    } else {
                        on_path.insert(node, path.len());
                        path.push((node, 0));
                    }
                }
                let Some((node, tried)) = path.last_mut() else {
                    break;
                };
                match self.links.get(*node).and_then(|links| links.get(*tried)) {
                    Some((to, _)) => {
                        *tried += 1;
                        next = Some(to);
                    }
                    None => {
                        on_path.remove(*node);
                        done.insert(*node);
                        path.pop();
                    }
                }
            }
        }
        circles
    }

    fn circle(&self, path: &[(&Node, usize)]) -> Vec<Link<'s>> {
        path.iter()
            .map(|&(node, tried)| {
                let links = self.links.get(node).map(Vec::as_slice).unwrap_or_default();
                let taken = links.get(tried.saturating_sub(1));
                (node.clone(), taken.and_then(|(_, time)| *time))
            })
            .collect()
    }
}

fn node(id: &Name, point: PointName) -> Node {
    Node::Point(id.clone(), point)
}
