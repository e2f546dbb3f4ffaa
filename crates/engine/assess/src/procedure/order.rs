//! Puts marks in an order that keeps all demands, or names a smallest set of demands that no order keeps.
//!
//! | edge | from | kind | weight |
//! |---|---|---|---|
//! | a to b | before(a, b) | strict | 1 |
//! | a to b, b to a | together(a, b) | not strict | 1 |
//! | y to x | at-least(y, T1) and keep-below(x, T2), T1 > T2 | strict | 2 |
//!
//! An order exists if and only if no circle holds a strict edge: marks that stand together are one, and what remains is a graph without
//! circles. A set of demands that cannot be kept is such a circle; the weight of a circle is the number of its demands, because a simple
//! circle leaves and enters each mark once. So the lightest strict circle is a smallest set: the lightest path back along each strict edge
//! (Dijkstra). Proved against all orders and all subsets of small sets in the tests below.

use super::constraint::{Demand, Mark};
use petgraph::algo::{astar, toposort};
use petgraph::graph::{DiGraph, NodeIndex};
use petgraph::unionfind::UnionFind;
use petgraph::visit::EdgeRef;
use std::collections::{BTreeMap, BTreeSet};

#[derive(Clone, Debug)]
struct Edge {
    strict: bool,
    /// Positions of the demands it comes from.
    from: Vec<usize>,
}

fn graph(marks: &[Mark], demands: &[Demand]) -> (DiGraph<Mark, Edge>, BTreeMap<Mark, NodeIndex>) {
    let mut graph = DiGraph::new();
    let mut nodes = BTreeMap::new();
    for mark in marks.iter().copied().chain(demands.iter().flat_map(|demand| demand.marks()).flatten()) {
        nodes.entry(mark).or_insert_with(|| graph.add_node(mark));
    }
    for (at, demand) in demands.iter().enumerate() {
        match *demand {
            Demand::Before(first, then) => {
                graph.add_edge(nodes[&first], nodes[&then], Edge { strict: true, from: vec![at] });
            }
            Demand::Together(one, other) => {
                for (from, to) in [(one, other), (other, one)] {
                    graph.add_edge(nodes[&from], nodes[&to], Edge { strict: false, from: vec![at] });
                }
            }
            Demand::AtLeast(warm, least) => {
                for (limited, below) in demands.iter().enumerate() {
                    if let Demand::KeepBelow(cool, most) = *below
                        && least > most
                    {
                        let edge = Edge { strict: true, from: vec![at, limited] };
                        graph.add_edge(nodes[&warm], nodes[&cool], edge);
                    }
                }
            }
            Demand::KeepBelow(..) => {}
        }
    }
    (graph, nodes)
}

/// Marks that stand together, in the order of the procedure.
pub type Places = Vec<Vec<Mark>>;

/// The marks in an order that keeps all demands: of what may come next, what the person wrote first comes first.
///
/// # Errors
/// The positions of a smallest set of demands that no order keeps.
pub fn order(marks: &[Mark], demands: &[Demand], rank: impl Fn(Mark) -> usize) -> Result<Places, Vec<usize>> {
    let (graph, _) = graph(marks, demands);
    let mut together = UnionFind::new(graph.node_count());
    for edge in graph.edge_references().filter(|edge| !edge.weight().strict) {
        together.union(edge.source(), edge.target());
    }
    let mut joined: DiGraph<Vec<Mark>, ()> = DiGraph::new();
    let mut of: BTreeMap<NodeIndex, NodeIndex> = BTreeMap::new();
    for node in graph.node_indices() {
        let root = together.find(node);
        let place = *of.entry(root).or_insert_with(|| joined.add_node(Vec::new()));
        joined[place].push(graph[node]);
    }
    for edge in graph.edge_references().filter(|edge| edge.weight().strict) {
        joined.update_edge(of[&together.find(edge.source())], of[&together.find(edge.target())], ());
    }
    if toposort(&joined, None).is_err() || joined.edge_references().any(|edge| edge.source() == edge.target())
    {
        return Err(smallest_conflict(&graph));
    }
    for marks in joined.node_weights_mut() {
        marks.sort_by_key(|mark| (rank(*mark), *mark));
    }
    let rank_of = |place: NodeIndex| joined[place].iter().map(|mark| (rank(*mark), *mark)).min();
    let mut waits: BTreeMap<NodeIndex, usize> = joined
        .node_indices()
        .map(|place| (place, joined.neighbors_directed(place, petgraph::Incoming).count()))
        .collect();
    let mut ready: BTreeSet<_> =
        waits.iter().filter(|(_, many)| **many == 0).map(|(place, _)| (rank_of(*place), *place)).collect();
    let mut places = Vec::with_capacity(joined.node_count());
    while let Some((_, place)) = ready.pop_first() {
        places.push(joined[place].clone());
        for next in joined.neighbors(place) {
            if let Some(many) = waits.get_mut(&next) {
                *many -= 1;
                if *many == 0 {
                    ready.insert((rank_of(next), next));
                }
            }
        }
    }
    Ok(places)
}

/// The lightest circle with a strict edge in it, as positions of demands; the first of several.
fn smallest_conflict(graph: &DiGraph<Mark, Edge>) -> Vec<usize> {
    let mut best: Option<(usize, Vec<usize>)> = None;
    for strict in graph.edge_references().filter(|edge| edge.weight().strict) {
        let back = astar(
            graph,
            strict.target(),
            |node| node == strict.source(),
            |edge| edge.weight().from.len(),
            |_| 0,
        );
        let Some((cost, path)) = back else { continue };
        let weight = cost + strict.weight().from.len();
        if best.as_ref().is_some_and(|(least, _)| *least <= weight) {
            continue;
        }
        let mut from = strict.weight().from.clone();
        for pair in path.windows(2) {
            let lightest = graph
                .edges_connecting(pair[0], pair[1])
                .min_by_key(|edge| (edge.weight().from.len(), edge.id()));
            from.extend(lightest.iter().flat_map(|edge| &edge.weight().from));
        }
        from.sort_unstable();
        from.dedup();
        best = Some((weight, from));
    }
    best.map(|(_, from)| from).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const LIMITS: [f64; 3] = [40.0, 60.0, 80.0];

    fn demand(marks: usize) -> impl Strategy<Value = Demand> {
        let mark = move || (0..marks).prop_map(Mark::Line);
        let limit = || (0..LIMITS.len()).prop_map(|at| LIMITS[at]);
        prop_oneof![
            4 => (mark(), mark()).prop_map(|(a, b)| Demand::Before(a, b)),
            2 => (mark(), mark()).prop_map(|(a, b)| Demand::Together(a, b)),
            2 => (mark(), limit()).prop_map(|(a, t)| Demand::AtLeast(a, t)),
            2 => (mark(), limit()).prop_map(|(a, t)| Demand::KeepBelow(a, t)),
        ]
    }

    /// Whether places and their temperatures keep a demand: straight from its meaning.
    fn keeps(demand: &Demand, place: &[usize], celsius: &[f64]) -> bool {
        let at = |mark: Mark| place[mark.line().unwrap()];
        match *demand {
            Demand::Before(a, b) => at(a) < at(b),
            Demand::Together(a, b) => at(a) == at(b),
            Demand::AtLeast(a, least) => celsius[at(a)] >= least,
            Demand::KeepBelow(a, most) => celsius[at(a)..].iter().all(|here| *here <= most),
        }
    }

    /// Tries every placing of the marks and every temperature of the places.
    fn can_be_kept(marks: usize, demands: &[&Demand]) -> bool {
        let temperatures = [30.0, 40.0, 60.0, 80.0];
        (0..marks.pow(marks as u32)).any(|code| {
            let place: Vec<usize> = (0..marks).map(|mark| code / marks.pow(mark as u32) % marks).collect();
            (0..4usize.pow(marks as u32)).any(|code| {
                let celsius: Vec<f64> =
                    (0..marks).map(|at| temperatures[code / 4usize.pow(at as u32) % 4]).collect();
                demands.iter().all(|demand| keeps(demand, &place, &celsius))
            })
        })
    }

    fn subsets(of: usize, size: usize) -> impl Iterator<Item = Vec<usize>> {
        (0..1usize << of)
            .filter(move |code| code.count_ones() as usize == size)
            .map(move |code| (0..of).filter(|at| code >> at & 1 == 1).collect())
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn an_order_is_found_exactly_when_there_is_one_and_a_conflict_is_a_smallest_one(
            demands in prop::collection::vec(demand(3), 0..7),
        ) {
            let marks: Vec<Mark> = (0..3).map(Mark::Line).collect();
            let all: Vec<&Demand> = demands.iter().collect();
            match order(&marks, &demands, |mark| mark.line().unwrap()) {
                Ok(places) => {
                    prop_assert!(can_be_kept(3, &all));
                    let at = |mark: Mark| places.iter().position(|place| place.contains(&mark)).unwrap();
                    for demand in &demands {
                        match *demand {
                            Demand::Before(a, b) => prop_assert!(at(a) < at(b)),
                            Demand::Together(a, b) => prop_assert_eq!(at(a), at(b)),
                            Demand::AtLeast(..) | Demand::KeepBelow(..) => {}
                        }
                    }
                    prop_assert_eq!(places.iter().flatten().count(), 3);
                }
                Err(conflict) => {
                    prop_assert!(!can_be_kept(3, &all));
                    let taken: Vec<&Demand> = conflict.iter().map(|at| &demands[*at]).collect();
                    prop_assert!(!can_be_kept(3, &taken), "the named set can be kept: {taken:?}");
                    for smaller in (0..conflict.len()).flat_map(|size| subsets(demands.len(), size)) {
                        let taken: Vec<&Demand> = smaller.iter().map(|at| &demands[*at]).collect();
                        prop_assert!(can_be_kept(3, &taken), "a smaller set cannot be kept: {taken:?}");
                    }
                }
            }
        }
    }

    #[test]
    fn what_melts_and_what_spoils_in_one_premix_are_three_demands() {
        let demands = [
            Demand::Before(Mark::Line(2), Mark::Line(0)),
            Demand::Together(Mark::Line(0), Mark::Line(1)),
            Demand::AtLeast(Mark::Line(0), 80.0),
            Demand::KeepBelow(Mark::Line(1), 40.0),
        ];
        assert_eq!(order(&[], &demands, |_| 0), Err(vec![1, 2, 3]));
    }

    #[test]
    fn the_persons_order_stands_where_nothing_speaks_against_it() {
        let marks: Vec<Mark> = (0..6).map(Mark::Line).collect();
        let demands = [Demand::Before(Mark::Line(4), Mark::Line(1))];
        let places = order(&marks, &demands, |mark| mark.line().unwrap()).unwrap();
        let lines: Vec<usize> = places.iter().flatten().filter_map(|mark| mark.line()).collect();
        assert_eq!(lines, [0, 2, 3, 4, 1, 5]);
    }
}
