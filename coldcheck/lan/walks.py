"""Walks over a graph: breadth first, depth first, shortest ways. The machinery of `graph`, where the words are.

Vertices are numbers; `near` gives by vertex the pairs (vertex at the other end, edge id), both ways, without
edges from a vertex to itself. Nothing recurses, and every answer follows the order of `near`.
"""

from collections.abc import Iterable, Iterator

from msgspec import Struct

Near = list[list[tuple[int, int]]] | dict[int, list[tuple[int, int]]]
"""By vertex number: pairs (number of the other vertex, edge id). A mapping where some vertices are left out."""


class Tree(Struct, frozen=True):
    """A spanning forest by vertex number.

    order [-]: vertices, parents first; parent [-]: -1 at a root; edge [-]: id of the one to the parent, -1 at
    a root; depth [-]; root [-]: the vertex where the component begins.
    """

    order: list[int]
    parent: list[int]
    edge: list[int]
    depth: list[int]
    root: list[int]

    def climb(self, start: int, goal: int) -> list[int]:
        """Edge ids [-] of the way in the tree from one vertex to another of its component. O(length)."""
        up: list[int] = []
        down: list[int] = []
        while start != goal:
            if self.depth[start] >= self.depth[goal]:
                up.append(self.edge[start])
                start = self.parent[start]
            else:
                down.append(self.edge[goal])
                goal = self.parent[goal]
        return up + down[::-1]


def grow(near: list[list[tuple[int, int]]]) -> Tree:
    """The spanning forest, breadth first from the lowest number of each component. O(V + E)."""
    count = len(near)
    tree = Tree([], [-1] * count, [-1] * count, [0] * count, [-1] * count)
    for root in range(count):
        if tree.root[root] >= 0:
            continue
        tree.root[root] = root
        level = [root]
        while level:
            tree.order.extend(level)
            level = [v for u in level for v, edge in near[u] if _adopt(tree, u, v, edge)]
    return tree


def _adopt(tree: Tree, u: int, v: int, edge: int) -> bool:
    if tree.root[v] >= 0:
        return False
    tree.root[v], tree.parent[v], tree.edge[v], tree.depth[v] = tree.root[u], u, edge, tree.depth[u] + 1
    return True


class Search(Struct, frozen=True):
    """A depth-first search, by vertex number.

    order [-]: vertices as they were met; place [-]: of each in that order; last [-]: one behind the last
    place of its subtree; low [-]: least place that its subtree reaches without the edge above; above [-]: id
    of that edge, -1 at a root; parted [-]: children whose subtrees come off when the vertex fails; blocks [-]:
    edge ids of the biconnected components.
    """

    order: list[int]
    place: list[int]
    last: list[int]
    low: list[int]
    above: list[int]
    parted: list[list[int]]
    blocks: list[list[int]]

    def bridges(self) -> dict[int, int]:
        """Cut edges, each with the vertex below it."""
        return {self.above[v]: v for v in self.order if self.above[v] >= 0 and self.low[v] == self.place[v]}


def search(near: list[list[tuple[int, int]]]) -> Search:
    """A depth-first search of every component, from its lowest number. O(V + E).

    Source: Hopcroft and Tarjan 1973, Algorithm 447 (from memory); each edge but the very one that led to a
    vertex is a way back, so that edges side by side close a loop.
    """
    count = len(near)
    found = Search([], [-1] * count, [0] * count, [0] * count, [-1] * count, [[] for _ in near], [])
    ways = [iter(row) for row in near]
    for root in range(count):
        if found.place[root] < 0:
            _search_from(root, ways, found)
    return found


def _search_from(root: int, ways: list[Iterator[tuple[int, int]]], found: Search) -> None:
    order, place, low, above = found.order, found.place, found.low, found.above
    opened: list[int] = []  # edges whose block is not complete yet
    stack = [root]
    place[root] = low[root] = len(order)
    order.append(root)
    while stack:
        v = stack[-1]
        for u, edge in ways[v]:
            if place[u] < 0:
                place[u] = low[u] = len(order)
                order.append(u)
                above[u] = edge
                opened.append(edge)
                stack.append(u)
                break
            if place[u] < place[v] and edge != above[v]:
                opened.append(edge)
                low[v] = min(low[v], place[u])
        else:
            stack.pop()
            found.last[v] = len(order)
            if stack:
                _close(stack[-1], v, opened, found)


def _close(parent: int, child: int, opened: list[int], found: Search) -> None:
    found.low[parent] = min(found.low[parent], found.low[child])
    if found.low[child] >= found.place[parent]:
        found.parted[parent].append(child)
        block: list[int] = []
        while not block or block[-1] != found.above[child]:
            block.append(opened.pop())
        found.blocks.append(block)


def distances(near: Near, start: int) -> dict[int, int]:
    """Edges from one vertex to each that can be reached, nearest first. O(V + E) of its component."""
    # a mapping, so that the cost is that of the component alone
    far = {start: 0}
    queue = [start]
    for v in queue:
        for u, _ in near[v]:
            if u not in far:
                far[u] = far[v] + 1
                queue.append(u)
    return far


def way(near: Near, start: int, goal: int) -> list[tuple[int, int]] | None:
    """A shortest way from one vertex to another: steps (vertex, edge id to it); None where there is none."""
    far = distances(near, goal)
    if start not in far:
        return None
    steps: list[tuple[int, int]] = []
    while start != goal:
        steps.append(next(step for step in near[start] if far[step[0]] < far[start]))
        start = steps[-1][0]
    return steps


def longest_from(near: Near, root: int) -> tuple[int, list[tuple[int, int]]]:
    """Where the longest of all shortest ways in a component begins, and its steps, as `way` gives them.

    root [-]: any vertex of the component. Cost and source as at `Graph.longest_row`.
    """
    part = distances(near, root)
    start = next(reversed(part))
    far = distances(near, start)
    goal = next(reversed(far))
    row = way(near, start, goal) or []
    if sum(len({u for u, _ in near[v]}) for v in part) == 2 * (len(part) - 1):
        return start, row  # two sweeps are exact on a tree
    middle = row[(len(row) - 1) // 2][0]
    start, goal = _farthest_pair(_without_twins(near, part), middle, (start, goal, len(row)))
    return start, way(near, start, goal) or []


def _without_twins(near: Near, part: Iterable[int]) -> dict[int, list[tuple[int, int]]]:
    """A component without those that hang on one other alone and have a brother there, as nodes on a switch.

    Brothers are equally far from all else, and where there is a loop, something is at least as far from one
    as its brother is. The one that comes last is kept.
    """
    others = {v: {u for u, _ in near[v]} for v in part}
    chosen = {next(iter(hubs)): v for v, hubs in others.items() if len(hubs) == 1}
    kept = [v for v, hubs in others.items() if len(hubs) > 1 or chosen[next(iter(hubs))] == v]
    known = set(kept)
    return {v: [step for step in near[v] if step[0] in known] for v in kept}


def _farthest_pair(
    near: dict[int, list[tuple[int, int]]], middle: int, best: tuple[int, int, int]
) -> tuple[int, int]:
    """The pair farthest apart, given a central vertex and a pair that is far apart, with its distance.

    A search from one vertex bounds how far anything is from each other one, u: no farther than the farthest
    from it and the way to u, no nearer than the way to u. By turns the search starts where the upper bound is
    greatest and where the lower is least, until no upper bound exceeds what was found.
    """
    lower = dict.fromkeys(near, 0)
    upper = dict.fromkeys(near, len(near))
    v, outward = middle, True
    while True:
        far = distances(near, v)
        end = next(reversed(far))
        if far[end] > best[2]:
            best = v, end, far[end]
        upper.pop(v, None)
        upper = {u: min(most, far[end] + far[u]) for u, most in upper.items()}
        upper = {u: most for u, most in upper.items() if most > best[2]}
        lower = {u: max(lower[u], far[u], far[end] - far[u]) for u in upper}
        if not upper:
            return best[0], best[1]
        v = max(upper, key=upper.__getitem__) if outward else min(lower, key=lower.__getitem__)
        outward = not outward
